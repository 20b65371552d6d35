"""What was promised for past visits, held beside what became of them."""

import polars as pl

from analysis.diagnosis.reserve import ENOUGH as PROMISES_ENOUGH
from analysis.mining.intervals import wilson
from analysis.mining.paired import words

ENOUGH = 30
FIRST_CHOICE = "First choice on past visits: "


def summarise(predictions: pl.DataFrame, cuts: int) -> pl.DataFrame:
    """Return the one row that ``Backtest.summary`` describes.

    Args:
        predictions: The rows that ``Backtest.predictions`` describes.
        cuts: How often was learned anew.
    """
    cured = predictions.filter(pl.col("cost").is_not_null())
    judged = tested(predictions)
    top = [(pl.col("place").fill_null(99) <= most).mean().alias(f"top{most}") for most in (1, 3)]
    ratios = [
        (pl.col("cost").sum() / pl.when(pl.col(name).sum() > 0).then(pl.col(name).sum())).alias(f"cost_vs_{name[5:]}")
        for name in ("cost_named", "cost_fitted")
    ]
    brier = judged.select(((pl.col("chance") - pl.col("held").cast(pl.Float64)) ** 2).mean().alias("brier"))
    return pl.concat(
        [
            cured.select(pl.len().cast(pl.Int64).alias("n"), *top),
            pl.DataFrame({"judged": [judged.height]}),
            brier,
            cured.select(ratios),
            pl.DataFrame({"cuts": [cuts]}),
        ],
        how="horizontal",
    )


def tested(predictions: pl.DataFrame) -> pl.DataFrame:
    """Return the visits in which the part named first was fitted and it is known whether its codes stayed away."""
    return predictions.filter((pl.col("place") == 1) & pl.col("held").is_not_null())


def reliability(predictions: pl.DataFrame) -> pl.DataFrame:
    """Lay what was promised beside what happened, by tenths of the chance.

    Args:
        predictions: chance (a fraction), held and place; only visits that ``tested`` returns count.

    Returns:
        One row per tenth that holds visits: tenth (1 to 10), predicted (mean), observed (share), low, high (95 %
        Wilson), n; sorted.
    """
    known = tested(predictions)
    tenth = pl.min_horizontal((pl.col("chance") * 10).floor().cast(pl.Int64) + 1, pl.lit(10, pl.Int64))
    rows = []
    for number, predicted, held, n in (
        known.sort("chance", "held")
        .group_by(tenth.alias("tenth"), maintain_order=True)
        .agg(pl.col("chance").mean(), pl.col("held").sum().cast(pl.Int64), pl.len().cast(pl.Int64).alias("n"))
        .iter_rows()
    ):
        rows.append((number, predicted, held / n, *wilson(held, n), n))
    shares = dict.fromkeys(("predicted", "observed", "low", "high"), pl.Float64)
    return pl.DataFrame(rows, schema={"tenth": pl.Int64} | shares | {"n": pl.Int64}, orient="row").sort("tenth")


def trust(summary: pl.DataFrame) -> str:
    """Say in one sentence how far to trust the list.

    Args:
        summary: The row that ``backtest`` makes.
    """
    n, one, three = summary.select("n", "top1", "top3").row(0)
    if n == 0:
        return "No past visit can check the list yet: that takes jobs with one part whose outcome is proven."
    first, among = round(one * n), round(three * n)
    said = (
        f"Of {n} past visits that one part cleared, the list would have named it first in {first} and among the first "
        f"three in {among}, each time from earlier visits only"
    )
    if n < ENOUGH:
        return f"{said}; under {ENOUGH} visits that is too few to tell how far to trust it."
    low, high = wilson(first, n)
    return f"{said}: expect its first line to be right {low:.0%} to {high:.0%} of the time."


def against_rules(predictions: pl.DataFrame) -> list[str]:
    """Say whether the list names the right part first more often than the two plain rules do.

    Args:
        predictions: The rows that ``Backtest.predictions`` describes.

    Returns:
        Two sentences; none where no visit tells right from wrong.
    """
    cured = predictions.filter(pl.col("cost").is_not_null())
    if cured.is_empty():
        return []
    mine = pl.col("place").fill_null(99) == 1
    said = []
    for rule, name in (("named_first", "what the codes name"), ("fitted_first", "what was fitted most")):
        only_list, only_rule = (cured.filter(which).height for which in (mine & ~pl.col(rule), ~mine & pl.col(rule)))
        said.append(FIRST_CHOICE + words("the list", name, only_list, only_rule))
    return said


def kept_back(summary: pl.DataFrame) -> str:
    """Say in one sentence how much of each chance is kept back, and why.

    Args:
        summary: The row that ``backtest`` makes.
    """
    judged, reserve = summary.select("judged", "reserve").row(0)
    why = (
        f"as {judged} past promises say"
        if judged >= PROMISES_ENOUGH
        else "more than later, when past promises can be held beside what became of them"
    )
    return f"Of every chance {reserve:.1%} is kept back for causes that nothing known points at, {why}."
