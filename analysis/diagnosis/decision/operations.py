"""What does the price book say of the work beside fitting: how long is a check, and what must come off first?

Parts share an opening where the price book writes the same words for both and they
sit at the same place: one cover over all cylinders is taken off once, the wheels of
two corners are two.
"""

from collections.abc import Sequence

import numpy as np

from analysis.diagnosis.decision.repair_model import NOWHERE, Work
from analysis.diagnosis.inputs.candidates import Candidate
from analysis.diagnosis.inputs.frames import Costs
from analysis.diagnosis.inputs.text_matching import place_words, read_wording
from analysis.diagnosis.model.noisy_or import Floats

CHECK_ERRS = 0.05
"""How often a check misses a faulty part, and how often it takes a good one for faulty, where nobody says."""


def minutes_in_cents(minutes: float, costs: Costs) -> float:
    """Return what so many minutes of labour cost."""
    return minutes / 60 * costs.labour_rate_cents


def opening_of(part: Candidate) -> tuple[str, str] | None:
    """Return the opening that a part lies behind, and the corner of the car; None where it needs none."""
    if not (part.opening or part.opening_minutes):
        return None
    corner = frozenset(word for word in read_wording(part.position).place if not word.startswith("cylinder "))
    return part.opening.casefold() or part.part, place_words(corner)


def work_of(parts: Sequence[Candidate], costs: Costs) -> Work:
    """Return the checks and openings of some parts.

    Args:
        parts: All candidates, in order.
        costs: For the price of labour.

    Returns:
        Costs in cents; an opening for which parts name different times takes the longest.
    """
    check = [np.inf if part.check_minutes is None else minutes_in_cents(part.check_minutes, costs) for part in parts]
    found = [opening_of(part) for part in parts]
    doors = sorted({door for door in found if door is not None})
    longest = [
        max(part.opening_minutes or 0.0 for part, door in zip(parts, found, strict=True) if door == mine)
        for mine in doors
    ]
    opening = np.array([NOWHERE if door is None else doors.index(door) for door in found], dtype=np.intp)
    cents = np.array([minutes_in_cents(minutes, costs) for minutes in longest], dtype=float)
    return Work(
        check=np.array(check, dtype=float),
        misses=_shares([part.check_misses for part in parts]),
        false_alarms=_shares([part.check_false_alarms for part in parts]),
        opening=opening,
        opening_cost=cents,
    )


def _shares(told: Sequence[float | None]) -> Floats:
    return np.array([CHECK_ERRS if share is None else share for share in told], dtype=float)


DRIVE_MINUTES = 20
"""What the drive of a recheck costs, in minutes of labour."""


def total_cents(candidate: Candidate, costs: Costs) -> float:
    """Return the cents of trying a part; labour that is not known counts nothing, NaN where the part's price is not."""
    if candidate.part_cents is None:
        return float("nan")
    return candidate.part_cents + (candidate.labour_minutes or 0.0) / 60 * costs.labour_rate_cents


def drive_cents(costs: Costs) -> float:
    """Return the cents of the drive of a recheck."""
    return DRIVE_MINUTES / 60 * costs.labour_rate_cents
