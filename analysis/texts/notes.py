"""Notes on single cars: what the rows of the list cannot say."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.texts.words import enumerated, percent, taking

NO_REPAIRS = "No repair with scans around it is known yet: every chance rests on code texts only."


def nothing_explains(vehicle: str, codes: Sequence[str]) -> str:
    """Say that a car goes to the specialist, as no known part explains any of its codes."""
    return f"{vehicle}: no known part explains {', '.join(codes)}: for the specialist."


def unexplained(vehicle: str, codes: Sequence[str]) -> str:
    """Name the codes of a car that nothing known explains, beside others that something does."""
    return f"{vehicle}: nothing known explains {', '.join(codes)}."


def mostly_past(vehicle: str, codes: Sequence[str]) -> str:
    """Name the codes of a car that are stored only, beside others that are awake."""
    return (
        f"{vehicle}: stored only, mostly of the past: {', '.join(codes)}; they go with the erase, look again after "
        "the drive."
    )


def no_cost(vehicle: str, parts: Sequence[str], assumed: str, some_known: bool) -> str:
    """Name the parts whose price is not known, and what was taken instead.

    Args:
        vehicle: Stock number.
        parts: Their labels.
        assumed: The money that stands for each.
        some_known: Whether any part has a known cost; else a share of the specialist's price was assumed.
    """
    source = "the middle of the known ones" if some_known else "a quarter of the specialist's price"
    return f"{vehicle}: no cost is known for {', '.join(parts)}; for the order {assumed} was assumed, {source}."


def no_labour(vehicle: str, parts: Sequence[str]) -> str:
    """Name the parts whose price is known and whose labour time is not."""
    return f"{vehicle}: no labour time is known for {', '.join(parts)}; the total is the part alone."


def opening(vehicle: str, what: str, minutes: float, part: str, others: Sequence[str]) -> str:
    """Say what must come off first, and for which other parts that is not counted again.

    Args:
        vehicle: Stock number.
        what: What comes off; blank where it has no name.
        minutes: What it takes, off and on.
        part: The part that it is counted with.
        others: Labels of later parts behind the same opening.
    """
    again = f", and is not counted again for {', '.join(others)}" if others else ""
    return f"{vehicle}: {what or 'the way to it'} comes off first, {taking(minutes)} counted with {part}{again}."


def renewed(vehicle: str, parts: Sequence[str]) -> str:
    """Name the parts that were renewed and not looked at since."""
    return f"{vehicle}: no scan tells yet whether the last work cured it ({', '.join(parts)} renewed)."


def nothing_to_fix(vehicles: Sequence[str]) -> str:
    """Name the cars whose open codes are background only."""
    them = "it has" if len(vehicles) == 1 else "they have"
    return f"All open codes of {enumerated(vehicles)} are ones that you look past; {them} no line on the list."


def handed_over(vehicle: str, *, specialist: str, part: str, price: str, left: float, total: str) -> str:
    """Say why a car with suspects goes straight to the specialist.

    Args:
        vehicle: Stock number.
        specialist: What handing it over costs.
        part: The best try.
        price: What that would cost.
        left: The chance that something is left for the specialist after it.
        total: What the try and then the specialist, where he is needed, would cost on average.
    """
    return (
        f"{vehicle}: handing over at once costs {specialist}; trying the {part} first costs {price} and leaves "
        f"something for the specialist in {percent(left)} of such cars, which makes about {total} on average."
    )
