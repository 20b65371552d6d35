"""Notes on all cars together: what was tested, what chance would give, which parts got worse, what the past says."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.texts.words import counted, p_value

NOTHING_TO_COMPARE = "No basket holds two codes: there was nothing to compare."
COPIES_TOO = "Even so, copies showed confirmed pairs. So only pairs more striking than any in the copies are listed."
MANY_BY_CHANCE = "That is many: take this week's rules with care."
ONLY_DAYS = "Only days are watched so: a scan does not say which reader took it."
FIRST_CHOICE = "First choice on past visits: "
"""How the notes on plain rules begin."""
THE_LIST, WHAT_CODES_NAME, WHAT_WAS_FITTED = "the list", "what the codes name", "what was fitted most"
NO_PAST_VISIT = "No past visit can check the list yet: that takes jobs with one part whose outcome is proven."


def tested(pairs: int, cars: int, confirmed: int, likely: int) -> str:
    """Say how many pairs were tested, and what came of it."""
    return (
        f"{pairs} pairs of codes were common enough to be tested on {cars} cars; {confirmed} are confirmed and "
        f"{likely} likely."
    )


def stricter(at_worst: int, stepwise: int) -> str:
    """Say what stricter corrections would list."""
    return (
        f"With stricter corrections, which hold however pairs depend on each other, {at_worst} of these would be "
        f"listed (Benjamini-Yekutieli) and {stepwise} confirmed (Holm)."
    )


def exploratory(baskets: int, enough: int) -> str:
    """Say that there is little to learn from yet."""
    return f"There are only {baskets} baskets: take the rules as exploratory until there are {enough}."


def merged(cars: int, line: str) -> str:
    """Say how many cars were compared as one line."""
    return f"{cars} cars of model lines with few cars were compared as one line, '{line}'."


def unequal_cars(showed: int, copies: int) -> str:
    """Say why cars were compared by their condition too."""
    return (
        "Some cars are so much worse than others that codes meet on them without belonging together: "
        f"{showed} of {copies} shuffled copies of the cars showed a confirmed pair. So cars were compared only with "
        "cars of their line that carry about as many codes; weak true pairs can be missed."
    )


def by_chance(copies: int, listed: float, showed: int) -> str:
    """Say what the same tests list where there is nothing to find."""
    return (
        f"In {copies} shuffled copies of these cars, where nothing belongs together, {listed:.1f} pairs were listed on "
        f"average, and {counted(showed, 'copy', 'copies')} showed a confirmed one."
    )


def unstable(families: Sequence[str]) -> str:
    """Name the families that hang on too few cars."""
    return f"Left out, as they hang on too few cars: the families around {', '.join(families)}."


def one_day(code: str, vehicles: int, scanned: int, day: str) -> str:
    """Say that a code was left out, as one day explains it."""
    return (
        f"{code} was first seen on {vehicles} of the {scanned} cars scanned on {day}: taken as a matter of that day, "
        "not of the cars, and left out."
    )


def worse_lately(part: str, late: tuple[int, int], early: tuple[int, int]) -> str:
    """Warn of a part whose latest jobs went worse; each pair is how many came back, and of how many."""
    return (
        f"{part}: codes returned after {late[0]} of the latest {late[1]} jobs, against {early[0]} of the {early[1]} "
        "before. Look at recent parts and how they were fitted."
    )


def worse_supplier(part: str, supplier: str, own: tuple[int, int], others: tuple[int, int]) -> str:
    """Warn of one supplier's part; each pair is how many came back, and of how many."""
    return (
        f"{part} from {supplier}: codes returned after {own[0]} of {own[1]} jobs, against {others[0]} of {others[1]} "
        "with parts from elsewhere."
    )


def erased_or_repaired(sooner: bool, erased: int, repaired: int, statistic: float, p: float) -> str:
    """Say whether codes come back sooner after erasing alone."""
    return (
        f"Codes came back {'sooner' if sooner else 'later'} after erasing alone ({erased} jobs) than after work on the "
        f"car ({repaired} jobs): log-rank {statistic:.1f}, {p_value(p)}."
    )


def cannot_tell(one: str, other: str, only_one: int, only_other: int, p: float) -> str:
    """Say that chance alone may explain which of two ways was right more often."""
    return f"{one} and {other} cannot be told apart yet ({only_one} against {only_other} visits, {p_value(p)})."


def better(one: str, other: str, more: int, fewer: int, p: float) -> str:
    """Say that one way is right more often than another."""
    return f"{one} is right more often than {other}: {more} visits against {fewer}, {p_value(p)}."


def named_in(visits: int, first: int, among: int) -> str:
    """Begin the sentence on how far to trust the list."""
    return (
        f"Of {visits} past visits that one part cleared, the list would have named it first in {first} and among the "
        f"first three in {among}, each time from earlier visits only"
    )


def too_few(said: str, enough: int) -> str:
    """End that sentence where there are few visits."""
    return f"{said}; under {enough} visits that is too few to tell how far to trust it."


def expect(said: str, low: float, high: float) -> str:
    """End that sentence with what to expect."""
    return f"{said}: expect its first line to be right {low:.0%} to {high:.0%} of the time."


def kept_back(reserve: float, judged: int, enough: bool) -> str:
    """Say how much of each chance is kept back, and why.

    Args:
        reserve: The share.
        judged: Past promises that can be held beside what became of them.
        enough: They suffice to say how much.
    """
    why = (
        f"as {judged} past promises say"
        if enough
        else "more than later, when past promises can be held beside what became of them"
    )
    return f"Of every chance {reserve:.1%} is kept back for causes that nothing known points at, {why}."
