"""How long does mining take, and how much memory, beside other ways of doing it?

Each way runs in a process of its own, on the same drawn baskets, and prints seconds,
processor seconds and the process's peak memory beyond the baskets themselves.  Up to
50,000 baskets that is the best of three runs after one that does not count, as the first
call of every library is slower; above, it is the one and first run.  What takes too
long or too much memory is stopped and printed as such.

    python -m tests.studies.mining_benchmark 1000 50000 1000000
"""

from __future__ import annotations

import multiprocessing
import resource
import signal
import sys
import time
from pathlib import Path

from tests.studies.mining_ways import FEW_BASKETS, PREPARED, WAYS, draw, ready

RUNS = 3
MOST_SECONDS = 100  # of processor time, for all runs of one way
MOST_GIGABYTES = 8


def memory(what: str) -> int:
    """Return megabytes by Linux's account of this process: VmRSS held now, VmHWM at its peak, VmSize asked for."""
    status = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return int(next(line for line in status if line.startswith(what)).split()[1]) // 1024


def set_limits() -> None:
    """Have this process stopped when it works too long, and refused memory beyond what it has by now."""
    signal.signal(signal.SIGPROF, signal.default_int_handler)
    signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)
    most = (memory("VmSize") << 20) + (MOST_GIGABYTES << 30)
    resource.setrlimit(resource.RLIMIT_AS, (most, most))


def measure(way: str, baskets: int) -> None:
    """Run one way and print its figures; called in a process of its own."""
    job = ready(way, draw(baskets))
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")  # forget the peak of the drawing
    before, few = memory("VmRSS"), baskets <= FEW_BASKETS
    figures = []
    set_limits()
    for _ in range(RUNS + 1 if few else 1):
        started, worked = time.perf_counter(), time.process_time()
        job()
        figures.append((time.perf_counter() - started, time.process_time() - worked))
    signal.setitimer(signal.ITIMER_PROF, 0)
    seconds, work = (min(part) for part in zip(*figures[few:], strict=True))
    more = memory("VmHWM") - before
    print(f"{baskets:>9,} baskets  {way:<38} {seconds:9.4f} s  {work:9.4f} s of work  {more:6,} MB", flush=True)


def measured_or_stopped(way: str, baskets: int) -> None:
    """Measure one way, or say that it was stopped."""
    try:
        measure(way, baskets)
    except (KeyboardInterrupt, MemoryError) as stop:
        limit = f"{MOST_GIGABYTES} GB" if isinstance(stop, MemoryError) else f"{MOST_SECONDS} s of work"
        print(f"{baskets:>9,} baskets  {way:<38} not done in {limit}", flush=True)


if __name__ == "__main__":
    spawn = multiprocessing.get_context("spawn")
    for size in map(int, sys.argv[1:]):
        for name in (*PREPARED, *WAYS):
            process = spawn.Process(target=measured_or_stopped, args=(name, size))
            process.start()
            process.join()
            if process.exitcode:
                print(f"{size:>9,} baskets  {name:<38} ended with {process.exitcode}: no memory beyond the limit")
