"""The families over the weeks: when did cars first show each of them, and how many?

One line a family, one disc a week with at least one new car; the larger the
disc, the more cars.  A row of discs that swells to the right is a part or a
model line that begins to fail.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import altair as alt
import polars as pl

from analysis.charts import theme, wording
from analysis.texts import chart_text as say
from analysis.texts.formatter import PLAIN, Formatter

MOST_FAMILIES = 20
LONG = 200  # days from which months are named in place of days
_LINE_HEIGHT = 46
_UP = 16  # pixels from a line to the name above it


def shown_weeks(weeks: pl.DataFrame, families: pl.DataFrame) -> pl.DataFrame:
    """Return the rows that the chart shows.

    Args:
        weeks: The columns of ``family_weeks.csv``.
        families: The columns of ``families.csv``.

    Returns:
        The weeks of the ``MOST_FAMILIES`` families with the most cars, the most common first, then by week.
    """
    ranked = families.sort("vehicles", "family", descending=[True, False], nulls_last=True)["family"]
    kept = ranked.head(MOST_FAMILIES).to_frame().with_row_index("place")
    return weeks.join(kept, on="family").sort("place", "week").select("family", "week", "vehicles")


def trend_chart(
    weeks: pl.DataFrame, families: pl.DataFrame, texts: Mapping[str, str], formatter: Formatter = PLAIN
) -> dict[str, Any] | None:
    """Draw the families over the weeks.

    Args:
        weeks: The columns of ``family_weeks.csv``.
        families: The columns of ``families.csv``.
        texts: The wording of codes, where it is known.
        formatter: How the dealer writes days.

    Returns:
        A Vega-Lite specification with the parameter ``kept``, or None where no family showed in any week.
    """
    shown = shown_weeks(weeks, families)
    if shown.is_empty():
        return None
    order = shown["family"].unique(maintain_order=True).to_list()
    named = {family: theme.folded(wording.named(family, texts)) for family in order}
    chart = _discs(shown, named, formatter).add_params(theme.kept())
    height = _LINE_HEIGHT * (len(order) - 1) + 2 * _room(named[order[0]])
    return theme.spec(
        chart.properties(width="container", height=height),
        say.trend_described(len(order)),
    )


def _discs(shown: pl.DataFrame, named: dict[str, str], formatter: Formatter) -> alt.Chart:
    axis = theme.above(grid=True)
    label = f"{json.dumps(named)}[datum.value]"
    axis.labelExpr = theme.unfolds(label)
    two = f"width < {theme.NARROW} && indexof({label}, '{theme.FOLD}') >= 0"
    axis.labelOffset = {"condition": {"test": two, "value": -_UP - theme.LINE_HEIGHT}, "value": -_UP}
    order, first = list(named), next(iter(named.values()))
    layer: alt.Chart = (
        alt.Chart(shown)
        .mark_circle(aria=False, color=theme.MAIN, cursor="pointer")
        .encode(
            x=alt.X("week:T", title=None, axis=_time(shown, formatter)),
            y=alt.Y("family:N", scale=alt.Scale(domain=order, padding=_room(first) / _LINE_HEIGHT), axis=axis),
            size=alt.Size("vehicles:Q", title=say.TREND_CARS, legend=_legend(shown), scale=_sizes(shown)),
            opacity=theme.faded(0.75),
            tooltip=[
                alt.Tooltip("family:N", title=say.FAMILY),
                alt.Tooltip("week:T", title=say.TREND_WEEK, format=formatter.day_format),
                alt.Tooltip("vehicles:Q", title=say.CARS),
            ],
        )
    )
    return layer


def _room(first: str) -> int:
    """Return the pixels above the first line: enough for its name, of one line or, on a phone, of two."""
    return _UP + theme.LINE_HEIGHT * (2 if theme.FOLD in first else 1)


def _time(shown: pl.DataFrame, formatter: Formatter) -> alt.Axis:
    """Name the months, or the days where all happened within a few months."""
    weeks = shown["week"].to_list()
    days = (max(weeks) - min(weeks)).days
    wanted = formatter.month_format if days > LONG else formatter.day_format
    return alt.Axis(orient="top", tickCount=6 if days > LONG else 4, format=wanted, labelOverlap=True)


def _sizes(shown: pl.DataFrame) -> alt.Scale:
    most = max(shown["vehicles"].to_list())
    return alt.Scale(domain=[0, most], range=[0, 320])


def _legend(shown: pl.DataFrame) -> alt.Legend:
    most = max(shown["vehicles"].to_list())
    steps = sorted({1, max(1, most // 2), most})
    return alt.Legend(
        values=steps, symbolFillColor=theme.MAIN, symbolStrokeColor=theme.MAIN, format="d", direction="horizontal"
    )
