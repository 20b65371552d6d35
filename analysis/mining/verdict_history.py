"""How sure is a verdict that is looked for again every week?

A pair is "confirmed" where the chance that even one such pair of the week is false is small.  Looked at week after
week, that chance adds up: in fleets without any association 41 of 227 had a confirmed pair in some week of two
years.  So the accepted error, 5 in 100 for one dealer over all weeks together, is spent as the cars grow more: the
first look, which most often sees years of history at once, may spend most, and from then on the level of each look
falls with the number of cars.  Weeks in between cost nothing, however often they look, for this reason:

Cars and scans only come in, so the joint count of a pair only rises.  That a pair is ever confirmed with a joint count
of j or more means that its count had reached j by the last week in which j was still enough.  Which week that is, the
single counts of that week and of later ones tell; given these, the cars that are there by then are in no order, the
joint count is spread as the exact test of that one week says, and the chance is the p-value of j there.  So for each
pair the chance over all weeks is at most the sum of one p-value for each count that was the critical one for a while,
and that changes a few times while the cars double.  Summed over all pairs of drawn fleets without association this
bound is .03 to .04 over two years in which the cars grow fourfold, and about .05 without end
(``python -m tests.studies.mining_study bound``).

What was confirmed stays confirmed, with its week, for as long as the pair is listed at all; then the verdict is
withdrawn with a word.

Source:
    K. K. G. Lan and D. L. DeMets, "Discrete sequential boundaries for clinical trials", Biometrika 70 (1983), 659-663:
    spending the error over looks by how much is known.  The bound is our own, held by exhaustive enumeration in
    ``test_verdict_history.py``; with R. E. Tarone's levels (``multiple_testing.py``) it counts pairs that can be
    confirmed in that week alone.  E-processes of each pair were tried and confirm fewer (``tests/studies/README.md``).
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

FIRST = 0.03
"""Level of the first look: chance that any pair of that week is confirmed and false."""
LATER, FALLS = 0.009, 0.7
"""Level of a look when no more cars are there than at the first, and by which power of the cars it falls."""
FEW = 50
"""The level does not fall before so many cars are there: with fewer hardly any pair can be confirmed."""
LOOKS = pl.Schema({"look": pl.Int64(), "week": pl.String(), "cars": pl.Int64(), "level": pl.Float64()})
HELD = pl.Schema({"antecedent": pl.String(), "consequent": pl.String(), "since": pl.String()})
"""Of a pair, antecedent < consequent; of a longer rule, its left side as ``rules.csv`` has it."""
ORDER = ("verdict", "odds_low", "antecedent", "consequent")


@dataclass(frozen=True, kw_only=True)
class VerdictHistory:
    """What earlier weeks looked at and confirmed.

    Attributes:
        week: The week that is made, ``YYYY-Www``.
        looks: The looks of earlier weeks, one row each: look (1 is the first), week, cars, level (what was spent).
        held: What stands confirmed since an earlier week, one row a rule: antecedent, consequent, since.
    """

    week: str
    looks: pl.DataFrame
    held: pl.DataFrame


def first_week(week: str) -> VerdictHistory:
    """Return the history of a dealer without one.

    Args:
        week: The week that is made.
    """
    return VerdictHistory(week=week, looks=pl.DataFrame(schema=LOOKS), held=pl.DataFrame(schema=HELD))


def level_of(cars: int, first: int) -> float:
    """Return the level of a later look.

    Args:
        cars: Cars that are compared now.
        first: Cars that were compared at the first look.

    Returns:
        Chance that any pair of that week alone is confirmed and false.
    """
    return float(LATER * min(max(first, FEW) / max(cars, 1), 1.0) ** FALLS)


def spend(history: VerdictHistory, cars: int) -> tuple[float, pl.DataFrame]:
    """Return the level of this week's look, and all looks with it.

    Args:
        history: What earlier weeks looked at; the week itself, should it be run again, is not among them.
        cars: Cars that are compared this week.

    Returns:
        ``(level, looks)``; the level is 0 where no car is compared.  A week without more cars than the last is no look
        of its own, though the scans that it brought may still confirm a pair.
    """
    looks = history.looks
    if cars < 1:
        return 0.0, looks
    level = level_of(cars, int(looks["cars"][0])) if looks.height else FIRST
    if looks.height and cars <= int(looks["cars"][-1]):
        return level, looks
    taken = {"look": looks.height + 1, "week": history.week, "cars": cars, "level": level}
    return level, pl.concat([looks, pl.DataFrame([taken], schema=LOOKS)])


def kept_verdicts(history: VerdictHistory, rules: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame, list[str]]:
    """Give each rule the verdict that all weeks together allow, and since when it stands.

    Args:
        history: What earlier weeks confirmed.
        rules: The columns of ``rules.csv``, ``verdict`` as this week's look alone has it.

    Returns:
        ``(rules, held, withdrawn)``: the rules with the column since (null where likely); what stands confirmed now;
        one line ``antecedent -> consequent, since`` for each that stood and is not listed any more.
    """
    named = rules.with_columns(_key()).join(history.held, left_on=["one", "other"], right_on=list(HELD)[:2], how="left")
    confirmed = pl.col("since").is_not_null() | (pl.col("verdict") == "confirmed")
    told = named.with_columns(
        verdict=pl.when(confirmed).then(pl.lit("confirmed")).otherwise(pl.lit("likely")),
        since=pl.when(confirmed).then(pl.coalesce("since", pl.lit(history.week))),
    )
    sure = told.filter(verdict="confirmed").select(antecedent="one", consequent="other", since="since")
    held = sure.unique().sort(list(HELD)).cast(HELD)
    gone = history.held.join(held, on=["antecedent", "consequent"], how="anti").sort(list(HELD))
    told = told.drop("one", "other").sort(ORDER, descending=[name == "odds_low" for name in ORDER])
    return told, held, [f"{a} -> {b}, {since}" for a, b, since in gone.iter_rows()]


def _key() -> tuple[pl.Expr, pl.Expr]:
    """The two rules of a pair are one; the left side of a longer rule holds a semicolon."""
    pair = ~pl.col("antecedent").str.contains(";", literal=True)
    swap = pair & (pl.col("antecedent") > pl.col("consequent"))
    one = pl.when(swap).then("consequent").otherwise("antecedent").alias("one")
    return one, pl.when(swap).then("antecedent").otherwise("consequent").alias("other")
