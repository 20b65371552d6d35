"""What each part cleared: the clear rate with its interval, against what erasing alone did.

A family stands above the parts that were tried on it.  The filled dot is the share of known jobs after
which the family was gone, the bar is its interval, the open diamond is what
erasing alone achieved.  A part is worth its money where the bar lies to the
right of the diamond.  The counts behind both stand at the right edge: one erase proves little.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import altair as alt
import polars as pl

from analysis.charts import theme, wording
from analysis.texts import chart_text as say

MOST_LINES = 30
FEWEST_JOBS = 2
_LINE_HEIGHT = 36
_APART = 9  # pixels from the middle of a line up to its name and down to its bar: nearer than the bar above
# Stands unseen between part and family in a line's name; what is before it is shown.
_BREAK = "\N{INVISIBLE SEPARATOR}"


def shown_results(part_results: pl.DataFrame) -> pl.DataFrame:
    """Return the lines that the chart shows.

    Args:
        part_results: The columns of ``part_results.csv``.

    Returns:
        The ``MOST_LINES`` rows with the most known jobs, sorted by family and then by the lower end of the
        rate, the best first.  One job proves little: rows with fewer than ``FEWEST_JOBS`` are left out, unless
        there are no others.
    """
    enough = part_results.filter(pl.col("jobs") >= FEWEST_JOBS)
    known = part_results if enough.is_empty() else enough
    most = known.sort("jobs", "part", "family", descending=[True, False, False]).head(MOST_LINES)
    return most.sort("family", "rate_low", "part", descending=[False, True, False])


def clear_chart(part_results: pl.DataFrame, texts: Mapping[str, str]) -> dict[str, Any] | None:
    """Draw the clear rates.

    Args:
        part_results: The columns of ``part_results.csv``.
        texts: The wording of codes, where it is known.

    Returns:
        A Vega-Lite specification with the parameter ``kept`` (families that keep their strength, empty for all), or
        None where no job has a known outcome.
    """
    lines = shown_results(part_results).with_columns(line=pl.format("{}" + _BREAK + "{}", "part", "family"))
    if lines.is_empty():
        return None
    order = _order(lines, texts)
    layers = [_bars(lines, order), _marks(lines, order), _counts(lines, order)]
    return theme.spec(
        alt.layer(*layers).add_params(theme.kept()).properties(width="container", height=_LINE_HEIGHT * len(order)),
        say.parts_described(lines.height),
    )


def _order(lines: pl.DataFrame, texts: Mapping[str, str]) -> list[str]:
    """Return what stands on the axis: each family with its wording, behind it its lines."""
    order: list[str] = []
    for (family,), group in lines.group_by("family", maintain_order=True):
        order += [theme.folded(wording.named(str(family), texts)), *group["line"]]
    return order


def _y(order: list[str]) -> alt.Y:
    heading = f"indexof(datum.value, '{_BREAK}') < 0"
    axis = theme.above()
    axis.labelExpr = theme.unfolds(f"split(datum.label, '{_BREAK}')[0]")
    axis.labelOffset = {
        "condition": [
            {"test": theme.TWO_LINES, "value": 3 - theme.LINE_HEIGHT},
            {"test": heading, "value": 3},
        ],
        "value": -_APART,
    }
    axis.labelFontWeight = {"condition": {"test": heading, "value": 700}, "value": 400}
    return alt.Y("line:N", scale=alt.Scale(domain=order, paddingOuter=0.3), axis=axis)


def _x(field: str) -> alt.X:
    axis = alt.Axis(format=".0%", title=say.PARTS_RATE, tickCount=5, orient="top")
    return alt.X(f"{field}:Q", scale=alt.Scale(domain=[0, 1]), axis=axis)


def _bars(lines: pl.DataFrame, order: list[str]) -> alt.Chart:
    layer: alt.Chart = (
        alt.Chart(lines)
        .mark_bar(aria=False, height=7, color=theme.MAIN, cornerRadius=3, yOffset=_APART - 3)
        .encode(x=_x("rate_low"), x2="rate_high:Q", y=_y(order), opacity=theme.faded(0.35))
    )
    return layer


def _marks(lines: pl.DataFrame, order: list[str]) -> alt.Chart:
    own = lines.select("line", "part", "family", rate="rate", what=pl.lit(say.PARTS_OWN))
    bare = lines.select("line", "part", "family", rate="erase_rate", what=pl.lit(say.PARTS_ERASE))
    both = pl.concat([own, bare]).filter(pl.col("rate").is_not_null())
    names = [say.PARTS_OWN, say.PARTS_ERASE]
    layer: alt.Chart = (
        alt.Chart(both)
        .mark_point(aria=False, size=90, strokeWidth=2, cursor="pointer", yOffset=_APART - 3)
        .encode(
            x=_x("rate"),
            y=_y(order),
            shape=alt.Shape("what:N", title=None, scale=alt.Scale(domain=names, range=["circle", "diamond"])),
            stroke=alt.Stroke("what:N", title=None, scale=alt.Scale(domain=names, range=[theme.MAIN, theme.OTHER])),
            fill=alt.Fill("what:N", title=None, scale=alt.Scale(domain=names, range=[theme.MAIN, theme.SHEET])),
            opacity=theme.faded(1.0),
            tooltip=[
                alt.Tooltip("part:N", title=say.PART),
                alt.Tooltip("family:N", title=say.FAMILY),
                alt.Tooltip("what:N", title=say.PARTS_RATE_OF),
                alt.Tooltip("rate:Q", title=say.PARTS_CLEARED, format=".0%"),
            ],
        )
    )
    return layer


def _counts(lines: pl.DataFrame, order: list[str]) -> alt.Chart:
    erased = pl.when(pl.col("erase_jobs") > 0).then(
        pl.format("   " + say.parts_counted("◇"), "erase_cleared", "erase_jobs")
    )
    told = lines.with_columns(told=pl.format(say.parts_counted("●"), "cleared", "jobs") + erased.otherwise(pl.lit("")))
    layer: alt.Chart = (
        alt.Chart(told)
        .mark_text(aria=False, align="right", dy=-_APART, color=theme.SOFT)
        .encode(x=alt.value("width"), y=_y(order), text="told:N", opacity=theme.faded(1.0))
    )
    return layer
