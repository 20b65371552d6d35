"""The columns of the shortlist, and the two rows that fit no part."""

from math import isnan

import polars as pl

from analysis.diagnosis.inputs.candidates import Candidate
from analysis.diagnosis.inputs.frames import Costs
from analysis.texts import action_text as say

SCHEMA: dict[str, type[pl.DataType]] = {
    **dict.fromkeys(("vehicle", "make", "model"), pl.String),
    "rank": pl.Int64,
    **dict.fromkeys(("part", "position", "action", "or_else"), pl.String),
    **dict.fromkeys(("chance", "chance_low", "chance_high"), pl.Float64),
    **dict.fromkeys(("part_cost", "labour_cost", "total_cost", "expected_cost"), pl.Float64),
    **dict.fromkeys(("clears", "leaves"), pl.String),
    **dict.fromkeys(("jobs", "jobs_cleared"), pl.Int64),
    "basis": pl.String,
    "cheap": pl.Boolean,
    **dict.fromkeys(("inspection", "caution", "check_first"), pl.String),
}
"""Columns and types, in order; money in cents, chances as fractions."""

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


def money(candidate: Candidate, costs: Costs, opening: float = 0.0) -> dict[str, object]:
    """Return the three costs of a part in cents, None where not known.

    Args:
        candidate: The part.
        costs: For the price of labour.
        opening: Cents of labour for what must come off first, 0 where that is off already.
    """
    labour, total = candidate.labour_minutes, total_cents(candidate, costs)
    return {
        "part_cost": candidate.part_cents,
        "labour_cost": None if labour is None else labour / 60 * costs.labour_rate_cents + opening,
        "total_cost": None if isnan(total) else total + opening,
    }


def recheck_row(
    costs: Costs, chance: tuple[float, float, float], codes: list[str], leaves: list[str], grave: bool
) -> dict[str, object]:
    """Return the row that says: record, erase, drive, scan again.

    Args:
        costs: For the distance to drive, and labour.
        chance: Chance that the codes stay away, and its interval.
        codes: Keys of the open codes that may stay away by themselves.
        leaves: Keys of the others.
        grave: Whether a brake or steering warning is on.

    Returns:
        The row without vehicle, rank, inspection and expected cost.
    """
    drive = drive_cents(costs)
    return _bare("recheck", chance, codes) | {
        "leaves": ";".join(sorted(leaves)),
        "labour_cost": drive,
        "total_cost": drive,
        "cheap": drive <= costs.cheap_limit_cents,
        "caution": say.recheck_caution(grave),
        "check_first": say.recheck_how(costs.formatter.distance(costs.road_test_km)),
    }


def specialist_row(costs: Costs, codes: list[str]) -> dict[str, object]:
    """Return the row that hands the car over, flat and all in: the price is until it is fixed, so its chance is 1.

    Args:
        costs: For the price.
        codes: Keys of the car's open codes.

    Returns:
        The row without vehicle, rank and inspection.
    """
    price = float(costs.specialist_cents)
    return _bare("specialist", (1.0, 1.0, 1.0), codes) | {
        "total_cost": price,
        "expected_cost": price,
        "cheap": price <= costs.cheap_limit_cents,
    }


def _bare(action: str, chance: tuple[float, float, float], codes: list[str]) -> dict[str, object]:
    texts = dict.fromkeys(("part", "position", "or_else", "leaves", "caution", "check_first"), "")
    numbers: dict[str, object] = dict(zip(("chance", "chance_low", "chance_high"), chance, strict=True))
    costs = dict.fromkeys(("part_cost", "labour_cost"))
    clears = {"action": action, "clears": ";".join(sorted(codes)), "basis": "code"}
    return texts | numbers | costs | clears | {"jobs": 0, "jobs_cleared": 0}
