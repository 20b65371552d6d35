"""Plain sentences about a car that the rows of the list cannot say."""

import polars as pl

from analysis.diagnosis.candidates import Candidate


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
        return [f"{vehicle}: no known part explains {', '.join(sorted(unexplained))}: for the specialist."]
    return [f"{vehicle}: nothing known explains {', '.join(sorted(unexplained))}."] if unexplained else []


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
    source = "the middle of the known ones" if some_known else "a quarter of the specialist's price"
    notes = []
    if blank:
        taken = f"for the order {assumed} was assumed, {source}"
        notes.append(f"{vehicle}: no cost is known for {', '.join(blank)}; {taken}.")
    if bare:
        notes.append(f"{vehicle}: no labour time is known for {', '.join(bare)}; the total is the part alone.")
    return notes


def opening_remark(vehicle: str, part: Candidate, minutes: float, others: list[str]) -> str:
    """Say what must come off first, and for which other parts that is not counted again.

    Args:
        vehicle: Stock number.
        part: The part that it is counted with.
        minutes: What it takes, off and on.
        others: Labels of later parts behind the same opening.
    """
    what = part.opening or "the way to it"
    again = f", and is not counted again for {', '.join(others)}" if others else ""
    return f"{vehicle}: {what} comes off first, {minutes:g} minutes counted with {part.label}{again}."


def renewed_remarks(vehicle: str, parts: list[str]) -> list[str]:
    """Name the parts that were renewed and not looked at since, while the codes from before are all that is known.

    Args:
        vehicle: Stock number.
        parts: Their labels.

    Returns:
        One sentence, or none.
    """
    if not parts:
        return []
    return [f"{vehicle}: no scan tells yet whether the last work cured it ({', '.join(sorted(parts))} renewed)."]


def nothing_to_fix(open_codes: pl.DataFrame, listed: set[str]) -> list[str]:
    """Name the cars whose open codes are background only.

    Args:
        open_codes: The frame ``marts.open_codes``.
        listed: Cars that have rows on the list.

    Returns:
        One sentence a car, sorted by vehicle.
    """
    masked = open_codes.filter(pl.col("background").is_not_null())["vehicle"].unique().sort().to_list()
    return [
        f"{vehicle}: nothing to fix: its open codes are background only." for vehicle in masked if vehicle not in listed
    ]
