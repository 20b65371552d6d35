"""The columns of the shortlist, and the two rows that fit no part."""

import polars as pl

from analysis.diagnosis.frames import Costs
from analysis.diagnosis.troubleshooting import Step

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

RECHECK_CAUTION = (
    "Keep the record of every module before erasing. No drive on the road with a brake, steering or airbag warning."
)


def recheck_row(costs: Costs, step: Step, codes: list[str], leaves: list[str]) -> dict[str, object]:
    """Return the row that says: record, erase, drive, scan again.

    Args:
        costs: For the distance to drive.
        step: The step, for its chance.
        codes: Keys of the open codes that may stay away by themselves.
        leaves: Keys of the others.

    Returns:
        The row without vehicle, rank and expected cost.
    """
    check = f"Record all modules, erase, drive {costs.road_test_km:g} km, scan again: what stays away needs no part."
    return _bare("recheck", step.chance, codes) | {
        "leaves": ";".join(sorted(leaves)),
        "labour_cost": 0.0,
        "total_cost": 0.0,
        "cheap": True,
        "caution": RECHECK_CAUTION,
        "check_first": check,
    }


def specialist_row(costs: Costs, codes: list[str]) -> dict[str, object]:
    """Return the row that hands the car over, flat and all in.

    Args:
        costs: For the price.
        codes: Keys of the car's open codes.

    Returns:
        The row without vehicle and rank.
    """
    price = float(costs.specialist_cents)
    return _bare("specialist", 1.0, codes) | {"total_cost": price, "expected_cost": price}


def _bare(action: str, chance: float, codes: list[str]) -> dict[str, object]:
    texts = dict.fromkeys(("part", "position", "or_else", "leaves", "caution", "check_first"), "")
    numbers = dict.fromkeys(("chance", "chance_low", "chance_high"), chance) | dict.fromkeys(
        ("jobs", "jobs_cleared"), 0
    )
    return (
        texts
        | numbers
        | {
            "action": action,
            "part_cost": None,
            "labour_cost": None,
            "clears": ";".join(sorted(codes)),
            "basis": "code",
            "cheap": False,
            "inspection": "none",
        }
    )
