"""Notes on single cars: what the rows of the list cannot say."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence

from analysis.texts.words import counted, enumerated, large, percent, taking

NO_REPAIRS = "No repair with scans around it is known yet: every chance rests on code texts only."


def nothing_explains(vehicle: str, codes: Sequence[str]) -> str:
    """Say that a car goes to the specialist once it was looked at again, as no known part explains any of its codes."""
    return f"{vehicle}: no known part explains {', '.join(codes)}: look again, then for the specialist."


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


NO_LABOUR = "no labour time is known for"


def no_labour(vehicle: str, parts: Sequence[str]) -> str:
    """Name the parts whose price is known and whose labour time is not."""
    return f"{vehicle}: {NO_LABOUR} {', '.join(parts)}; the total is the part alone."


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


def from_others(own: int, others: Sequence[tuple[str, int, float]]) -> str:
    """Say how many jobs the list rests on, and how much other dealers' count.

    Args:
        own: The dealer's own jobs.
        others: Name, jobs, and how much each of these counts.
    """
    used = [(name, jobs, weight) for name, jobs, weight in others if weight]
    unused = [name for name, _, weight in others if not weight]
    told = f"Learned from {counted(own, 'own job', 'own jobs')}"
    if used:
        from_them = enumerated([f"{jobs:,} of {name}, each at {percent(weight)}" for name, jobs, weight in used])
        told += f" and from other dealers': {from_them}"
    if unused:
        told += f"; {enumerated(unused)} counted nothing, as they did not foretell your own cars"
    return f"{told}."


def better_supplier(vehicle: str, part: str, supplier: str, his: float, own: float) -> str:
    """Say that another supplier's part has held more often than one from where the part is bought.

    Args:
        vehicle: Stock number.
        part: The part.
        supplier: The other one.
        his: Of the cars that have this fault, how many a new part of his cures.
        own: The same of the part as it is bought.
    """
    return (
        f"{vehicle}: where the {part} is the fault, a new one from {supplier} cures about {percent(his)} of cars by "
        f"your own jobs, one from where you buy it {percent(own)}."
    )


def nothing_to_fix(vehicles: Sequence[str]) -> str:
    """Name the cars whose open codes are background only."""
    them = "it has" if len(vehicles) == 1 else "they have"
    return f"All open codes of {enumerated(vehicles)} are ones that you leave alone; {them} no line on the list."


def scan_every(cars: Sequence[tuple[str, str]], usual: int) -> str:
    """Say that next to nothing is known of cars of which one module was read.

    Args:
        cars: Stock number and the module.
        usual: Modules that are read of most cars.
    """
    named = enumerated([f"{vehicle} ({module})" for vehicle, module in cars])
    return f"Only one module was read of {named}, of most cars {usual}: scan every module first."


def handed_over(
    vehicle: str, *, specialist: str, part: str, price: str, left: float, total: str, untold: bool = False
) -> str:
    """Say why a car with suspects goes straight to the specialist.

    Args:
        vehicle: Stock number.
        specialist: What handing it over costs.
        part: The best try.
        price: What that would cost.
        left: The chance that something is left for the specialist after it.
        total: What the try and then the specialist, where he is needed, would cost on average.
        untold: That is less, and the part is no line all the same: nothing ties it to the codes.
    """
    why = (
        f" The {part} is no line all the same: no job of yours shows that it ends such codes, and none of them names "
        "it. Measure before you buy it; a job with an erase and a scan after would tell."
    )
    return (
        f"{vehicle}: handing over at once costs {specialist}; trying the {part} first costs {price} and leaves "
        f"something for the specialist in {percent(left)} of such cars, which makes about {total} on average."
    ) + (why if untold else "")


def of_cars(notes: Iterable[str], vehicles: Iterable[str]) -> dict[str, list[str]]:
    """Return, for each of some cars, the notes that say why it is handed over, without the stock number before them."""
    wanted, mine = list(vehicles), defaultdict[str, list[str]](list)
    cars = set(wanted)
    for note in notes:
        if not re.search(_WHY_HANDED, note):
            continue
        # A stock number may hold such a sign itself.
        for end in re.finditer(": ", note):
            if note[: end.start()] in cars:
                mine[note[: end.start()]].append(large(note[end.end() :]))
    return {vehicle: mine[vehicle] for vehicle in wanted if vehicle in mine}


_WHY_HANDED = r"no known part explains|nothing known explains|handing over at once"


def unknown_module(spelling: str, rows: int, module: str) -> str:
    """Say that the list of modules does not know a name."""
    return f"module {spelling!r} ({counted(rows, 'row', 'rows')}) is not in the list of modules; kept as {module}"


_UNKNOWN_MODULE = re.compile(
    r"module (?:'.*'|\".*\") \([\d,]+ rows?\) is not in the list of modules; kept as (.*)", re.DOTALL
)


def without_modules(notes: Iterable[str]) -> tuple[list[str], list[str]]:
    """Part the notes on unknown modules from the others.

    Returns:
        The names under which these modules are kept, and the other notes.
    """
    modules, others = [], []
    for note in notes:
        found = _UNKNOWN_MODULE.fullmatch(note)
        if found:
            modules.append(found[1])
        else:
            others.append(note)
    return sorted(set(modules)), others


_TWO_NUMBERS = re.compile(r"(.*?) stands with .*; one stock number means one car", re.DOTALL)


def two_numbers(notes: Iterable[str]) -> list[str]:
    """Return the stock numbers of which some notes say that they stand with two vehicle numbers."""
    return [found[1] for note in notes if (found := _TWO_NUMBERS.fullmatch(note))]


# What a dealer should know first: two cars taken for one, what came in wrong, then parts that got worse, then single
# cars, then the rest.
_FIRST = (
    r"one stock number means one car",
    r"clock right|was not loaded|was refused|was not used|left no report|taken in again",
    r"codes returned after|scan every module first",
    r"no known part explains|nothing known explains|handing over at once|no cost is known",
    r"one of them is wrong|may lack|after the day of this report|left out until|one stock number|not put together",
)
_LAST = r"^code |^Only days are watched"


def by_weight(notes: Iterable[str]) -> list[str]:
    """Return notes with those first that change what the dealer does this week; level ones keep their order."""

    def weight(note: str) -> int:
        if re.search(_LAST, note):
            return len(_FIRST) + 1
        return next((place for place, words in enumerate(_FIRST) if re.search(words, note)), len(_FIRST))

    return sorted(notes, key=weight)


def no_such_car(name: str, near: Sequence[str]) -> str:
    """Say that a repair is of a car that nothing else knows, and which known ones are one letter off."""
    return f"repairs of {name}: there is no such car in the stock list or in a scan; did you mean {' or '.join(near)}?"
