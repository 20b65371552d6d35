"""Plain sentences about a car that the rows of the list cannot say."""

import polars as pl

from analysis.diagnosis.inputs.candidates import Candidate
from analysis.texts import notes as say


def code_remarks(vehicle: str, unexplained: list[str], some_are: bool) -> list[str]:
    """Name the codes that no known part explains.

    Args:
        vehicle: Stock number.
        unexplained: Their keys.
        some_are: Whether any other code of the car is explained.

    Returns:
        One sentence, or none.
    """
    if not some_are:
        return [say.nothing_explains(vehicle, sorted(unexplained))]
    return [say.unexplained(vehicle, sorted(unexplained))] if unexplained else []


def cost_remarks(vehicle: str, parts: list[Candidate], assumed: str, some_known: bool) -> list[str]:
    """Name the parts whose price or labour is not known, and what was taken instead.

    Args:
        vehicle: Stock number.
        parts: The parts that were weighed.
        assumed: Money that stands for a price that is not known.
        some_known: Whether any part has a known cost; else a share of the specialist's price was assumed.

    Returns:
        At most two sentences.
    """
    blank = sorted(part.label for part in parts if part.part_cents is None)
    bare = sorted(part.label for part in parts if part.part_cents is not None and part.labour_minutes is None)
    notes = [say.no_cost(vehicle, blank, assumed, some_known)] if blank else []
    return [*notes, say.no_labour(vehicle, bare)] if bare else notes


def opening_remark(vehicle: str, part: Candidate, minutes: float, others: list[str]) -> str:
    """Say what must come off first, and for which other parts that is not counted again.

    Args:
        vehicle: Stock number.
        part: The part that it is counted with.
        minutes: What it takes, off and on.
        others: Labels of later parts behind the same opening.
    """
    return say.opening(vehicle, part.opening, minutes, part.label, others)


def renewed_remarks(vehicle: str, parts: list[str]) -> list[str]:
    """Name the parts that were renewed and not looked at since, while the codes from before are all that is known.

    Args:
        vehicle: Stock number.
        parts: Their labels.

    Returns:
        One sentence, or none.
    """
    return [say.renewed(vehicle, sorted(parts))] if parts else []


def nothing_to_fix(open_codes: pl.DataFrame, listed: set[str]) -> list[str]:
    """Name the cars whose open codes are background only.

    Args:
        open_codes: The frame ``marts.open_codes``.
        listed: Cars that have rows on the list.

    Returns:
        One sentence on all of them, or none.
    """
    masked = open_codes.filter(pl.col("background").is_not_null())["vehicle"].unique().sort().to_list()
    unlisted = [vehicle for vehicle in masked if vehicle not in listed]
    return [say.nothing_to_fix(unlisted)] if unlisted else []
