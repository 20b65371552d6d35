"""What each part cleared: the clear rate with its interval, against what erasing alone did.

One line a part and family.  The filled dot is the share of known jobs after
which the family was gone, the bar is its interval, the open diamond is what
erasing alone achieved.  A part is worth its money where the bar lies to the
right of the diamond.
"""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from analysis.charts import theme

MOST_LINES = 40
_LINE_HEIGHT = 46
_PART, _ERASE = "jobs with this part alone", "erasing alone"


def shown_results(part_results: pl.DataFrame) -> pl.DataFrame:
    """Return the lines that the chart shows.

    Args:
        part_results: The columns of ``part_results.csv``.

    Returns:
        The ``MOST_LINES`` rows with the most known jobs, sorted by family and then by the lower end of the
        rate, the best first.
    """
    most = part_results.sort("jobs", "part", "family", descending=[True, False, False]).head(MOST_LINES)
    return most.sort("family", "rate_low", "part", descending=[False, True, False])


def clear_chart(part_results: pl.DataFrame) -> dict[str, Any] | None:
    """Draw the clear rates.

    Args:
        part_results: The columns of ``part_results.csv``.

    Returns:
        A Vega-Lite specification with the parameter ``kept`` (families that keep their strength, empty for all), or
        None where no job has a known outcome.
    """
    lines = shown_results(part_results).with_columns(pl.format("{} · {}", "part", "family").alias("line"))
    if lines.is_empty():
        return None
    chart = alt.layer(_bars(lines), _marks(lines), _counts(lines)).add_params(theme.kept())
    return theme.spec(
        chart.properties(width="container", height=_LINE_HEIGHT * lines.height),
        f"Clear rates of {lines.height} pairs of part and family, each with its interval and beside it the rate of "
        "erasing alone. The table below holds the same numbers.",
    )


def _y(lines: pl.DataFrame) -> alt.Y:
    return alt.Y("line:N", scale=alt.Scale(domain=lines["line"].to_list(), paddingOuter=0.3), axis=theme.above())


def _x(field: str) -> alt.X:
    axis = alt.Axis(format=".0%", title="Share of known jobs that cleared the family", tickCount=5, orient="top")
    return alt.X(f"{field}:Q", scale=alt.Scale(domain=[0, 1]), axis=axis)


def _bars(lines: pl.DataFrame) -> alt.Chart:
    layer: alt.Chart = (
        alt.Chart(lines)
        .mark_bar(aria=False, height=7, color=theme.MAIN, cornerRadius=3, yOffset=8)
        .encode(x=_x("rate_low"), x2="rate_high:Q", y=_y(lines), opacity=theme.faded(0.35))
    )
    return layer


def _marks(lines: pl.DataFrame) -> alt.Chart:
    own = lines.select("line", "part", "family", rate="rate", what=pl.lit(_PART))
    bare = lines.select("line", "part", "family", rate="erase_rate", what=pl.lit(_ERASE))
    both = pl.concat([own, bare]).filter(pl.col("rate").is_not_null())
    names = [_PART, _ERASE]
    layer: alt.Chart = (
        alt.Chart(both)
        .mark_point(aria=False, size=90, strokeWidth=2, cursor="pointer", yOffset=8)
        .encode(
            x=_x("rate"),
            y=_y(lines),
            shape=alt.Shape("what:N", title=None, scale=alt.Scale(domain=names, range=["circle", "diamond"])),
            stroke=alt.Stroke("what:N", title=None, scale=alt.Scale(domain=names, range=[theme.MAIN, theme.OTHER])),
            fill=alt.Fill("what:N", title=None, scale=alt.Scale(domain=names, range=[theme.MAIN, theme.SHEET])),
            opacity=theme.faded(1.0),
            tooltip=[
                alt.Tooltip("part:N"),
                alt.Tooltip("family:N"),
                alt.Tooltip("what:N", title="rate of"),
                alt.Tooltip("rate:Q", title="cleared", format=".0%"),
            ],
        )
    )
    return layer


def _counts(lines: pl.DataFrame) -> alt.Chart:
    told = lines.with_columns(pl.format("{} of {}", "cleared", "jobs").alias("told"))
    layer: alt.Chart = (
        alt.Chart(told)
        .mark_text(aria=False, align="right", dy=-13, color=theme.SOFT)
        .encode(x=alt.value("width"), y=_y(lines), text="told:N", opacity=theme.faded(1.0))
    )
    return layer
