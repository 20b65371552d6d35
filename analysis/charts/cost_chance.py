"""Cost against chance: what each car's first try costs, and how likely it is to work.

The upper left corner is where a cheap try is likely to do.  One mark stands for
every car with the same first try at the same cost and chance.  A chosen mark
keeps its strength while the others fade; the page and the chart choose together.
"""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from analysis.charts import theme
from analysis.texts import chart_text as say
from analysis.texts.action_text import RECHECK
from analysis.texts.words import small

PICKED = "picked"
MANY = 60  # marks, from which their intervals would hide one another
_SHAPES = {"replace": "circle", "repair": "triangle-up", "recheck": "diamond"}
_SAME = ("total_cost", "chance", "chance_low", "chance_high", "action", "cheap")


def first_tries(shortlist: pl.DataFrame) -> pl.DataFrame:
    """Return the first row of every car, with the mark it belongs to.

    Args:
        shortlist: The columns of ``shortlist.csv``, money in units.

    Returns:
        The rows of rank 1 by vehicle, with ``point``: the first vehicle of all those at the same place, or
        null where nothing can be drawn: cost or chance is not known, or the car is handed over or left as it is.
    """
    first = shortlist.filter(pl.col("rank") == 1).sort("vehicle")
    known = pl.col("total_cost").is_not_null() & pl.col("chance").is_not_null()
    drawn = known & ~pl.col("action").is_in(["specialist", "leave"])
    return first.with_columns(pl.when(drawn).then(pl.col("vehicle").first().over(_SAME)).alias("point"))


def cost_chance(shortlist: pl.DataFrame, currency: str, cheap_limit: float | None) -> dict[str, Any] | None:
    """Draw cost against chance of the first tries.

    Args:
        shortlist: The columns of ``shortlist.csv``, money in units.
        currency: Code of the money, for the axis.
        cheap_limit: The settings' limit for a cheap row, in units; None where it is not known.

    Returns:
        A Vega-Lite specification with the parameter ``picked`` (a list of point names, empty for all), or
        None where no first try has both a cost and a chance.
    """
    points = (
        first_tries(shortlist)
        .filter(pl.col("point").is_not_null())
        .group_by("point", *_SAME)
        .agg(pl.col("vehicle").sort().str.join(", ").alias("cars"), pl.len().alias("count"), pl.col("part").first())
        .with_columns(pl.when("cheap").then(pl.lit(say.CHEAP)).otherwise(pl.lit(say.DEARER)).alias("within"))
        .with_columns(pl.col("action").replace("recheck", small(RECHECK)).alias("doing"))
        .sort("point")
    )
    if points.is_empty():
        return None
    layers = [_spans(points, currency), _points(points, currency)]
    if cheap_limit is not None:
        layers.insert(0, _limit(cheap_limit, currency))
    chart = alt.layer(*layers).add_params(alt.param(name=PICKED, value=[])).properties(width="container", height=330)
    return theme.spec(
        chart,
        say.costs_described(int(points["count"].sum())),
    )


def _x(field: str, currency: str) -> alt.X:
    return alt.X(f"{field}:Q", title=say.cost_axis(currency), scale=alt.Scale(zero=True))


def _y(field: str) -> alt.Y:
    axis = alt.Axis(format=".0%", tickCount=5)
    return alt.Y(f"{field}:Q", title=say.COST_CHANCE, scale=alt.Scale(domain=[0, 1]), axis=axis)


def _faded(full: float) -> Any:
    chosen = alt.when(f"length({PICKED}) == 0 || indexof({PICKED}, datum.point) >= 0")
    return chosen.then(alt.value(full)).otherwise(alt.value(0.12))


def _limit(cheap_limit: float, currency: str) -> alt.Chart:
    at = alt.Chart(pl.DataFrame({"limit": [float(cheap_limit)]}))
    layer: alt.Chart = at.mark_rule(aria=False, strokeDash=[4, 4], color=theme.SOFT).encode(x=_x("limit", currency))
    return layer


def _spans(points: pl.DataFrame, currency: str) -> alt.Chart:
    span = alt.Chart(points).mark_rule(aria=False, color=theme.MAIN, strokeWidth=1.5)
    layer: alt.Chart = span.encode(
        x=_x("total_cost", currency),
        y=_y("chance_low"),
        y2=alt.Y2("chance_high:Q"),
        opacity=_faded(0.35 if points.height <= MANY else 0.15),
    )
    return layer


def _points(points: pl.DataFrame, currency: str) -> alt.Chart:
    actions = [action for action in _SHAPES if action in set(points["action"])]
    doing = [small(RECHECK) if action == "recheck" else action for action in actions]
    shapes = alt.Scale(domain=doing, range=[_SHAPES[action] for action in actions])
    inked = alt.Legend(symbolFillColor=theme.INK, symbolStrokeColor=theme.INK) if len(actions) > 1 else None
    fills = alt.Scale(domain=[say.CHEAP, say.DEARER], range=[theme.GOOD, theme.SHEET])
    strokes = alt.Scale(domain=[say.CHEAP, say.DEARER], range=[theme.GOOD, theme.MAIN])
    layer: alt.Chart = (
        alt.Chart(points)
        .mark_point(aria=False, strokeWidth=2, cursor="pointer")
        .encode(
            x=_x("total_cost", currency),
            y=_y("chance"),
            shape=alt.Shape("doing:N", title=None, scale=shapes, legend=inked),
            fill=alt.Fill("within:N", title=None, scale=fills),
            stroke=alt.Stroke("within:N", title=None, scale=strokes),
            size=alt.Size("count:Q", scale=alt.Scale(domain=[1, 6], range=[110, 420], clamp=True), legend=None),
            opacity=_faded(1.0),
            tooltip=[
                alt.Tooltip("cars:N", title=say.CARS),
                alt.Tooltip("doing:N", title=say.ACTION),
                alt.Tooltip("part:N", title=say.PART),
                alt.Tooltip("total_cost:Q", title=say.cost(currency), format=",.2f"),
                alt.Tooltip("chance:Q", title=say.CHANCE, format=".0%"),
                alt.Tooltip("chance_low:Q", title=say.LEAST, format=".0%"),
                alt.Tooltip("chance_high:Q", title=say.MOST, format=".0%"),
            ],
        )
    )
    return layer
