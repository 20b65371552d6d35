"""What a piece of work costs: processor seconds, wall seconds and the most memory it held."""

from __future__ import annotations

import json
import resource
import time
from collections.abc import Iterator
from contextlib import contextmanager
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
