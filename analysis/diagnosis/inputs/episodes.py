"""Which jobs were about the same fault of the same car?

A car that comes again because its codes came back is no second car with those codes,
and that the rest of its codes is absent was learned the first time.  Its jobs are one
fault with several attempts at it.
"""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analysis.evidence.cleared import SUREST

Ints = NDArray[np.int64]
MOST_ATTEMPTS = 3
"""A fourth attempt begins anew: the ways in which new parts cure or do not double with each."""
SURELY_GONE = 0.9
"""A code that is there again although it was proven gone as well as this is another fault's."""
LONGEST_GAP = timedelta(days=365)
"""So is one that is there again after so long: the car was driven, sold or bought back (common practice, no source)."""


class End(NamedTuple):
    """What was seen of a code after an attempt.

    Attributes:
        lik_cleared: Likelihood of it if the code would stay away.
        lik_recurred: Likelihood of it if the code would come back.
        known: How well the outcome is known, 0 to 1.
    """

    lik_cleared: float
    lik_recurred: float
    known: float


RETURNED, UNSEEN = End(SUREST, 1.0, 1 - SUREST), End(1.0, 1.0, 0.0)


@dataclass
class Fault:
    """What one car came with, and what was done about it.

    Attributes:
        make: As written in the repair log; blank where unknown.
        vehicle: Stock number.
        asked: Modules read before the first attempt, as columns.
        at: When the last attempt was.
        attempts: Job ids of each attempt, in time order; jobs between which nobody looked are one.
        ends: For each code that was there, by column, what was seen of it after each attempt.
        left: Columns of the codes that were not proven gone after the last attempt before which they were there.
        looked: Modules read before any attempt.
        erased: The last attempt erased the codes.
    """

    make: str
    vehicle: str
    asked: set[int]
    at: datetime
    attempts: list[list[int]] = field(default_factory=list)
    ends: dict[int, list[End]] = field(default_factory=dict)
    left: set[int] = field(default_factory=set)
    looked: set[int] = field(default_factory=set)
    erased: bool = False

    def goes_on(self, codes: dict[int, End], at: datetime, module_of: Ints) -> bool:
        """Tell whether codes found later are this fault's: open ones of it, or such as nobody had looked for."""
        new = [d for d in codes if d not in self.left]
        unasked = all(d not in self.ends and int(module_of[d]) not in self.looked for d in new)
        soon = at - self.at <= LONGEST_GAP
        return soon and len(self.attempts) < MOST_ATTEMPTS and len(new) < len(codes) and unasked

    def begin(self, codes: dict[int, End], asked: set[int]) -> None:
        """Begin an attempt, with what was seen after it of each code that was there before it.

        Where nobody had looked for a code after the attempt before, and that one erased, it came back.
        """
        for d in codes:
            seen = self.ends.setdefault(d, [UNSEEN] * len(self.attempts))
            if self.erased and seen[-1] == UNSEEN:
                seen[-1] = RETURNED
        for d, seen in self.ends.items():
            seen.append(codes.get(d, UNSEEN))
        surely = {d for d, end in codes.items() if end.lik_cleared > end.lik_recurred and end.known >= SURELY_GONE}
        self.left = (self.left | codes.keys()) - surely
        self.looked |= asked
        self.attempts.append([])
        self.erased = False

    def add(self, job: int, erased: bool, at: datetime) -> None:
        """Add a job to the last attempt."""
        self.attempts[-1].append(job)
        self.erased, self.at = self.erased or erased, at


def gather_faults(
    jobs: pl.DataFrame, ends: dict[int, dict[int, End]], asked: dict[int, set[int]], module_of: Ints
) -> list[Fault]:
    """Put the jobs on each car together that were about the same fault.

    Args:
        jobs: One row per job: job_id, vehicle, make, parted_at, erased.
        ends: Job to what was seen after it of each unmasked code before it, by column.
        asked: Job to the modules that were read before it, as columns.
        module_of: (codes,) column of the code's module.

    Returns:
        The faults, by their first job.  A job before which nothing was read goes to the attempt before it, if its
        car has one; jobs before which no code was there are left out.
    """
    latest, found = dict[str, Fault](), list[Fault]()
    named = jobs.sort("parted_at", "job_id").with_columns(pl.col("make").fill_null(""))
    for job, vehicle, make, at, erased in named.select("job_id", "vehicle", "make", "parted_at", "erased").iter_rows():
        fault, codes, read = latest.get(vehicle), ends.get(job, {}), asked.get(job, set())
        # Jobs of one moment have the same scans before and after them.
        together = fault is not None and (at == fault.at or (not read and at - fault.at <= LONGEST_GAP))
        if not codes and not together:
            continue
        if fault is None or not (together or fault.goes_on(codes, at, module_of)):
            fault = latest[vehicle] = Fault(make, vehicle, read, at)
            found.append(fault)
        if not together:
            fault.begin(codes, read)
        fault.add(job, bool(erased), at)
    return sorted(found, key=lambda fault: fault.attempts[0])
