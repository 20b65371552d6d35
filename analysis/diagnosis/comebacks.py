"""Which jobs were about the same fault of the same car?

A car that comes again because its codes came back is no second car with those codes,
and that the rest of its codes is absent was learned the first time.  Its jobs are one
fault with several attempts at it.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

MOST_JOBS = 3
"""A fourth attempt begins anew: the ways in which new parts cure or do not double with each job."""


class End(NamedTuple):
    """What was seen of a code after a job.

    Attributes:
        gone: Likelihood of it if the code would stay away.
        back: Likelihood of it if the code would come back.
        known: How well the outcome is known, 0 to 1.
    """

    gone: float
    back: float
    known: float


RETURNED, UNSEEN = End(0.0, 1.0, 1.0), End(1.0, 1.0, 0.0)
PROVEN = 0.9
"""A code that is as surely gone is another fault's when it is there again."""


@dataclass
class Fault:
    """What one car came with, and what was done about it.

    Attributes:
        make: As written in the repair log; blank where unknown.
        jobs: Job ids in time order.
        asked: Modules read before the first job, as columns.
        ends: For each code that was there, by column, what was seen of it after each job.
        left: Columns of the codes that were not proven gone when they were last looked for.
        erased: The last job erased the codes.
    """

    make: str
    jobs: list[int]
    asked: set[int]
    ends: dict[int, list[End]]
    left: set[int]
    erased: bool = False

    def goes_on(self, codes: dict[int, End], module_of: NDArray[np.int64]) -> bool:
        """Tell whether codes found later are this fault's: open ones of it, or such as nobody had looked for."""
        new = [d for d in codes if d not in self.left]
        unasked = all(d not in self.ends and int(module_of[d]) not in self.asked for d in new)
        return len(self.jobs) < MOST_JOBS and len(new) < len(codes) and unasked

    def add(self, job: int, codes: dict[int, End], erased: bool) -> None:
        """Add a job, with what was seen after it of each code that was there before it.

        A code that is there before it has come back after the job before, if that one erased.
        """
        for d in codes:
            seen = self.ends.setdefault(d, [UNSEEN] * len(self.jobs))
            if self.erased:
                seen[-1] = RETURNED
        for d, seen in self.ends.items():
            seen.append(codes.get(d, UNSEEN))
        self.left -= {d for d, end in codes.items() if end.gone > 0 and end.known >= PROVEN}
        self.left |= {d for d, end in codes.items() if end.gone == 0 or end.known < PROVEN}
        self.jobs.append(job)
        self.erased = erased


def gather_faults(
    jobs: pl.DataFrame, ends: dict[int, dict[int, End]], asked: dict[int, set[int]], module_of: NDArray[np.int64]
) -> list[Fault]:
    """Put the jobs on each car together that were about the same fault.

    Args:
        jobs: One row per job: job_id, vehicle, make, done_at, erased.
        ends: Job to what was seen after it of each unmasked code before it, by column.
        asked: Job to the modules that were read before it, as columns.
        module_of: (codes,) column of the code's module.

    Returns:
        The faults, by their first job; jobs without a code before them are left out.
    """
    latest, found = dict[str, Fault](), list[Fault]()
    rows = jobs.sort("done_at", "job_id").select("job_id", "vehicle", pl.col("make").fill_null(""), "erased")
    for job, vehicle, make, erased in rows.iter_rows():
        codes = ends.get(job)
        if not codes:
            continue
        fault = latest.get(vehicle)
        if fault is None or not fault.goes_on(codes, module_of):
            fault = latest[vehicle] = Fault(make, [], asked.get(job, set()), {}, set())
            found.append(fault)
        fault.add(job, codes, bool(erased))
    return sorted(found, key=lambda fault: fault.jobs[0])
