"""Notes on all cars together: what was tested, what chance would give, which parts got worse, what the past says."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.texts.words import by_chance as chance_alone
from analysis.texts.words import counted, p_value, reckoned

NOTHING_TO_COMPARE = "No visit shows two codes: there was nothing to compare."
COPIES_TOO = "Even so, copies showed confirmed pairs. So only pairs more striking than any in the copies are listed."
MANY_BY_CHANCE = "That is many: take this week's rules with care."
ONLY_DAYS = "Only days are watched like this: no scan says which device read it, so a faulty device can pass unseen."
TAKEN_FOR = "Each chance is put right before it is given: "
"""How the note begins that says what chances are taken for."""
FIRST_CHOICE = "First choice on past visits: "
"""How the notes on plain rules begin."""
THE_LIST, WHAT_CODES_NAME, WHAT_WAS_FITTED = "the list", "what the codes name", "what was fitted most"
NO_PAST_VISIT = "No past visit can check the list yet: that takes jobs with one part whose outcome is proven."


def tested(pairs: int, cars: int, confirmed: int, likely: int) -> str:
    """Say how many pairs were tested, and what came of it."""
    return (
        f"{counted(confirmed, 'pair of codes belongs', 'pairs of codes belong')} together for certain as far as can be "
        f"told, {likely:,} more likely so; {pairs:,} were common enough to look at on {counted(cars, 'car', 'cars')}."
    )


def stricter(at_worst: int, stepwise: int) -> str:
    """Say what stricter corrections would list."""
    return reckoned(
        "",
        f"judged more strictly, as if the pairs hung together in the worst way, {at_worst:,} of these would be listed "
        f"and {stepwise:,} confirmed (corrections after Benjamini-Yekutieli and after Holm).",
    )


def exploratory(visits: int, enough: int) -> str:
    """Say that there is little to learn from yet."""
    known = counted(visits, "visit is", "visits are")
    return f"Only {known} known: take the rules as a first hint until there are {enough}."


def merged(cars: int, line: str) -> str:
    """Say how many cars were compared as one line."""
    compared = counted(cars, "car of a model line with few cars was", "cars of model lines with few cars were")
    return f"{compared} compared as one line, '{line}'."


def unequal_cars(showed: int, copies: int) -> str:
    """Say why cars were compared by their condition too."""
    return reckoned(
        "Some cars are so much worse than others that codes meet on them without belonging together. So cars were "
        "compared only with cars of their line that carry about as many codes; weak true pairs can be missed.",
        f"{showed} of {copies} shuffled copies of the cars showed a confirmed pair.",
    )


def by_chance(copies: int, listed: float, showed: int) -> str:
    """Say what the same tests list where there is nothing to find."""
    some = counted(showed, "copy", "copies") if showed else "no copy"
    return reckoned(
        "",
        f"in {copies} shuffled copies of these cars, where nothing belongs together, {listed:.1f} pairs were listed on "
        f"average, and {some} showed a confirmed one.",
    )


def withdrawn(rules: Sequence[str]) -> str:
    """Name what was confirmed in an earlier week and is not listed any more.

    Args:
        rules: Each with the week since when it was confirmed.
    """
    return f"Confirmed in an earlier week and withdrawn now, as the cars since do not bear it out: {'; '.join(rules)}."


def unstable(families: Sequence[str]) -> str:
    """Name the families that hang on too few cars."""
    return f"Left out, as they hang on too few cars: the groups around {', '.join(families)}."


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
    return reckoned(
        f"Codes came back {'sooner' if sooner else 'later'} after erasing alone ({counted(erased, 'job', 'jobs')}) "
        f"than after work on the car ({counted(repaired, 'job', 'jobs')}).",
        f"chance alone would do that {chance_alone(p)} (log-rank {statistic:.1f}, {p_value(p)}).",
    )


def cannot_tell(one: str, other: str, only_one: int, only_other: int, p: float) -> str:
    """Say that chance alone may explain which of two ways was right more often."""
    told = f"it is too early to say which is right more often, {one} or {other}"
    return reckoned(f"{told}: {_split(one, other, only_one, only_other)}.", _exact(p))


def better(one: str, other: str, more: int, fewer: int, p: float) -> str:
    """Say that one way is right more often than another."""
    return reckoned(f"{one} is right more often than {other}: {_split(one, other, more, fewer)}.", _exact(p))


def _split(one: str, other: str, only_one: int, only_other: int) -> str:
    visits = counted(only_one, "visit", "visits")
    return f"{one} was right and {other} wrong on {visits}, the other way round on {only_other:,}"


def _exact(p: float) -> str:
    return f"chance alone would split them at least so unevenly {chance_alone(p)} (McNemar's exact test, {p_value(p)})."


def named_in(visits: int, first: int, among: int) -> str:
    """Begin the sentence on how far to trust the list."""
    return (
        f"Of {counted(visits, 'past visit', 'past visits')} that one part cleared, the list would have named it first "
        f"in {first} and among the first three in {among}, each time from earlier visits only"
    )


def too_few(said: str, enough: int) -> str:
    """End that sentence where there are few visits."""
    return f"{said}; under {enough} visits that is too few to tell how far to trust it."


def expect(said: str, low: float, high: float) -> str:
    """End that sentence with what to expect."""
    return f"{said}: expect its first step to be right {low:.0%} to {high:.0%} of the time."


def taken_for(said: float, meant: float, judged: int) -> str:
    """Say what a chance is taken for, as past ones were kept.

    Args:
        said: A chance as codes and repairs alone say it.
        meant: What it is taken for.
        judged: Past visits on which the chance given can be held beside what became of it.
    """
    how = "too careful" if meant > said else "too sure"
    return (
        f"{TAKEN_FOR}on {judged:,} past visits, what codes and repairs alone say was {how}, so {said:.0%} against one "
        f"rival is given as {meant:.0%}. The chances shown beside what happened have this in them already: what they "
        "are off there is what is left."
    )


def kept_back(reserve: float, judged: int, enough: bool) -> str:
    """Say how much of each chance is kept back, and why.

    Args:
        reserve: The share of the doubt about the likeliest answer.
        judged: Past visits on which the chance given can be held beside what became of it.
        enough: They suffice to say how much.
    """
    why = (
        f"as the chances given on {judged:,} past visits say"
        if enough
        else "more than later, when enough chances given on past visits can be held beside what became of them"
    )
    return (
        "No list is complete: where the first answer for a car has one chance in two, its chances are lowered by "
        f"{reserve / 2:.1%} to leave room for other causes and for faults that have passed, {why}; surer answers are "
        "lowered less."
    )
