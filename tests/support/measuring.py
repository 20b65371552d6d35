"""What a piece of work costs: processor seconds, wall seconds and the most memory it held."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

STATUS = Path("/proc/self/status")


def processor_seconds() -> float:
    """Return what this process and its ended children have used so far."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def forget_peak() -> None:
    """Begin the watch for the most memory anew; only Linux can."""
    if STATUS.exists():
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")


def peak_megabytes() -> int:
    """Return the most memory that this process held since ``forget_peak``, elsewhere than on Linux since its start."""
    if STATUS.exists():
        line = next(line for line in STATUS.read_text(encoding="ascii").splitlines() if line.startswith("VmHWM"))
        return int(line.split()[1]) // 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


@contextmanager
def measured(name: str) -> Iterator[None]:
    """Print what the block costs as one line of JSON: step, cpu, wall, peak."""
    forget_peak()
    cpu, wall = processor_seconds(), time.perf_counter()
    yield
    cost = {"cpu": round(processor_seconds() - cpu, 3), "wall": round(time.perf_counter() - wall, 3)}
    print(json.dumps({"step": name, **cost, "peak": peak_megabytes()}), flush=True)


@dataclass(frozen=True)
class Cost:
    """What a command cost.

    Attributes:
        cpu: Processor seconds, user and system, of it and its ended children.
        wall: Seconds by the clock.
        peak: The most memory that one of its processes held, in megabytes.
    """

    cpu: float
    wall: float
    peak: int


def cost_of(command: Sequence[str], folder: Path, environment: Mapping[str, str]) -> Cost:
    """Run a command and return what it cost; end with what it said where it failed.

    Args:
        command: Its words.
        folder: Where it stands.
        environment: Its environment.
    """
    with tempfile.TemporaryFile("w+", encoding="utf-8") as said:
        started = time.perf_counter()
        child = subprocess.Popen(command, cwd=folder, env=dict(environment), stdout=said, stderr=subprocess.STDOUT)
        _, status, used = os.wait4(child.pid, 0)
        wall = time.perf_counter() - started
        child.returncode = os.waitstatus_to_exitcode(status)
        if child.returncode:
            said.seek(0)
            sys.exit(f"{' '.join(command)} ended with {child.returncode}:\n{said.read()}")
    return Cost(used.ru_utime + used.ru_stime, wall, used.ru_maxrss // 1024)
