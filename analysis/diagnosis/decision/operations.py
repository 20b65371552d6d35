"""What does the price book say of the work beside fitting: how long is a check, and what must come off first?

Parts share an opening where the price book writes the same words for both and they
sit at the same place: one cover over all cylinders is taken off once, the wheels of
two corners are two.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from analysis.diagnosis.decision.repair_model import NOWHERE, Work
from analysis.diagnosis.inputs.candidates import Candidate
from analysis.diagnosis.inputs.frames import Costs
from analysis.diagnosis.inputs.past_checks import CheckCounts, check_errors
from analysis.diagnosis.inputs.text_matching import place_words, read_wording


def minutes_in_cents(minutes: float, costs: Costs) -> float:
    """Return what so many minutes of labour cost."""
    return minutes / 60 * costs.labour_rate_cents


def opening_of(part: Candidate) -> tuple[str, str] | None:
    """Return the opening that a part lies behind, and the corner of the car; None where it needs none."""
    if not (part.opening or part.opening_minutes):
        return None
    corner = frozenset(word for word in read_wording(part.position).place if not word.startswith("cylinder "))
    return part.opening.casefold() or part.part, place_words(corner)


def work_of(parts: Sequence[Candidate], costs: Costs, checks: Mapping[str, CheckCounts] | None = None) -> Work:
    """Return the checks and openings of some parts.

    Args:
        parts: All candidates, in order.
        costs: For the price of labour.
        checks: What became of past checks, by part; None where nothing is known of any.

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
    misses, alarms = check_errors(parts, checks or {})
    return Work(
        check=np.array(check, dtype=float),
        misses=np.array(misses, dtype=float),
        false_alarms=np.array(alarms, dtype=float),
        opening=opening,
        opening_cost=cents,
    )


DRIVE_MINUTES = 20
"""What a recheck costs, in minutes of labour: erasing and the scans; any trips count as its drive."""


def total_cents(candidate: Candidate, costs: Costs) -> float:
    """Return the cents of trying a part; labour that is not known counts nothing, NaN where the part's price is not."""
    if candidate.part_cents is None:
        return float("nan")
    return candidate.part_cents + (candidate.labour_minutes or 0.0) / 60 * costs.labour_rate_cents


def drive_cents(costs: Costs) -> float:
    """Return the cents of the drive of a recheck."""
    return DRIVE_MINUTES / 60 * costs.labour_rate_cents
