"""Calibration and accuracy: what was predicted for past visits, held beside what became of them."""

import polars as pl

from analysis.diagnosis.inference.calibration import ENOUGH as PREDICTIONS_ENOUGH
from analysis.diagnosis.inference.calibration import Calibration
from analysis.statistics.intervals import wilson
from analysis.statistics.mcnemar import words
from analysis.texts import findings as say

SAID = 0.70
"""What a sharpness does is told by what it makes of this chance where there are two answers."""
BAR = 0.90
"""The confidence of every interval that is drawn as a bar."""
ENOUGH = 30


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
    """Return the visits of which it is known in the end whether the part that the list names first was it."""
    return predictions.filter(pl.col("chance").is_not_null() & pl.col("held").is_not_null())


def reliability(predictions: pl.DataFrame) -> pl.DataFrame:
    """Lay what was predicted beside what happened, by tenths of the chance.

    Args:
        predictions: chance (a fraction) and held; only visits that ``tested`` returns count.

    Returns:
        One row per tenth that holds visits: tenth (1 to 10), predicted (mean), observed (share), low, high (90 %
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
        rows.append((number, predicted, held / n, *wilson(held, n, BAR), n))
    shares = dict.fromkeys(("predicted", "observed", "low", "high"), pl.Float64)
    return pl.DataFrame(rows, schema={"tenth": pl.Int64} | shares | {"n": pl.Int64}, orient="row").sort("tenth")


def trust(summary: pl.DataFrame) -> str:
    """Say in one sentence how far to trust the list.

    Args:
        summary: The row that ``backtest`` makes.
    """
    n, one, three = summary.select("n", "top1", "top3").row(0)
    if n == 0:
        return say.NO_PAST_VISIT
    first, among = round(one * n), round(three * n)
    said = say.named_in(n, first, among)
    return say.too_few(said, ENOUGH) if n < ENOUGH else say.expect(said, *wilson(first, n))


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
    for rule, name in (("named_first", say.WHAT_CODES_NAME), ("fitted_first", say.WHAT_WAS_FITTED)):
        only_list, only_rule = (cured.filter(which).height for which in (mine & ~pl.col(rule), ~mine & pl.col(rule)))
        said.append(say.FIRST_CHOICE + words(say.THE_LIST, name, only_list, only_rule))
    return said


def sharpness(calibration: Calibration, judged: int) -> list[str]:
    """Say in one sentence what past promises make of a chance; none where they leave it as it is.

    Args:
        calibration: As it was learned.
        judged: Past predictions that were put to the test.
    """
    meant = 1 / (1 + (1 / SAID - 1) ** calibration.sharpness)
    return [say.taken_for(SAID, meant, judged)] if round(meant, 2) != SAID else []


def unknown_cause(calibration: float, judged: int) -> str:
    """Say in one sentence how much of each chance is unknown-cause mass, and why.

    Args:
        calibration: Share of one minus the largest posterior chance.
        judged: Past predictions that were put to the test.
    """
    return say.kept_back(calibration, judged, judged >= PREDICTIONS_ENOUGH)
