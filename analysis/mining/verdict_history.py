"""How sure is a verdict that is looked for again every week?

A pair is "confirmed" where the chance that even one such pair of the week is false is small.  Looked at week after
week, that chance adds up: in fleets without any association 41 of 227 had a confirmed pair in some week of two
years.  So the accepted error, 5 in 100 for one dealer over all weeks together, is spent in portions, one a look, and
a look is taken only when the cars have become a twentieth more: between two looks nothing new is confirmed.  The
first look, which most often sees years of history at once, gets the largest portion.

What a look confirmed stays confirmed, with its week, for as long as the pair is listed at all; then the verdict is
withdrawn with a word.

Source:
    K. K. G. Lan and D. L. DeMets, "Discrete sequential boundaries for clinical trials", Biometrika 70 (1983), 659-663:
    spending the error over looks; the portions, and that looks follow the number of cars, are our own.  That the sum
    of the portions bounds the chance, however the looks hang together, is Boole's inequality.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

ALL_WEEKS = 0.05
"""Chance that any pair is ever confirmed and false at one dealer."""
FIRST, EVEN, EVEN_LOOKS, LATER = 0.4, 0.4, 80, 0.2
"""Shares of it: of the first look, of the next ``EVEN_LOOKS`` together (the cars grow 50-fold meanwhile), of all later
ones together."""
GROWTH = 1.05
"""A look is taken once there are so many times the cars of the look before."""
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


def portion(look: int) -> float:
    """Return what may be spent on one look.

    Args:
        look: Its number, from 1.

    Returns:
        A level; those of all looks, without end, sum to ``ALL_WEEKS``.
    """
    if look == 1:
        return ALL_WEEKS * FIRST
    if look <= 1 + EVEN_LOOKS:
        return ALL_WEEKS * EVEN / EVEN_LOOKS
    later = look - 1 - EVEN_LOOKS
    return ALL_WEEKS * LATER / (later * (later + 1))


def spend(history: VerdictHistory, cars: int) -> tuple[float, pl.DataFrame]:
    """Return the level of this week's look, 0 where none is taken, and all looks with it.

    Args:
        history: What earlier weeks spent; the week itself, should it be run again, is not among them.
        cars: Cars that are compared this week.
    """
    looks = history.looks
    if cars < 1 or (looks.height and cars < GROWTH * int(looks["cars"][-1])):
        return 0.0, looks
    number = looks.height + 1
    taken = {"look": number, "week": history.week, "cars": cars, "level": portion(number)}
    return portion(number), pl.concat([looks, pl.DataFrame([taken], schema=LOOKS)])


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
