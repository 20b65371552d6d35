"""Did the chances hold?  What was promised on past visits against what happened.

One dot a tenth of the scale, the larger the more visits, with the interval of
what happened.  On the dashed line a chance says what comes; a dot below it
promised too much, one above it too little.
"""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from analysis.charts import theme
from analysis.texts import chart_text as say

_NEAR = 0.06  # of the scale: below a bar that ends nearer to its foot a count would stand among the axis's own numbers


def reliability_chart(reliability: pl.DataFrame) -> dict[str, Any] | None:
    """Draw the reliability curve.

    Args:
        reliability: The columns of ``reliability.csv``.

    Returns:
        A Vega-Lite specification, or None where no past chance was put to the test.
    """
    if reliability.is_empty():
        return None
    tenths = reliability.sort("tenth")
    layers = [_ideal(), _spans(tenths), _line(tenths), _dots(tenths), _counts(tenths)]
    return theme.spec(
        alt.layer(*layers).properties(width="container", height=330),
        say.trust_described(int(tenths["n"].sum()), tenths.height),
    )


def _x(field: str = "predicted") -> alt.X:
    axis = alt.Axis(format=".0%", tickCount=5)
    return alt.X(f"{field}:Q", title=say.TRUST_GIVEN, scale=alt.Scale(domain=[0, 1]), axis=axis)


def _y(field: str = "observed") -> alt.Y:
    axis = alt.Axis(format=".0%", tickCount=5)
    return alt.Y(f"{field}:Q", title=say.TRUST_KEPT, scale=alt.Scale(domain=[0, 1]), axis=axis)


def _ideal() -> alt.Chart:
    ends = pl.DataFrame({"predicted": [0.0, 1.0], "observed": [0.0, 1.0]})
    layer: alt.Chart = alt.Chart(ends).mark_line(aria=False, strokeDash=[4, 4], color=theme.SOFT).encode(x=_x(), y=_y())
    return layer


def _spans(tenths: pl.DataFrame) -> alt.Chart:
    layer: alt.Chart = (
        alt.Chart(tenths)
        .mark_rule(aria=False, color=theme.MAIN, strokeWidth=2, opacity=0.45)
        .encode(x=_x(), y=_y("low"), y2=alt.Y2("high:Q"))
    )
    return layer


def _line(tenths: pl.DataFrame) -> alt.Chart:
    layer: alt.Chart = alt.Chart(tenths).mark_line(aria=False, color=theme.MAIN, opacity=0.5).encode(x=_x(), y=_y())
    return layer


def _dots(tenths: pl.DataFrame) -> alt.Chart:
    layer: alt.Chart = (
        alt.Chart(tenths)
        .mark_circle(aria=False, color=theme.MAIN, opacity=1)
        .encode(
            x=_x(),
            y=_y(),
            size=alt.Size("n:Q", legend=None, scale=alt.Scale(domain=[0, 60], range=[40, 320], clamp=True)),
            tooltip=[
                alt.Tooltip("predicted:Q", title=say.TRUST_CHANCE, format=".0%"),
                alt.Tooltip("observed:Q", title=say.TRUST_AWAY, format=".0%"),
                alt.Tooltip("low:Q", title=say.LEAST, format=".0%"),
                alt.Tooltip("high:Q", title=say.MOST, format=".0%"),
                alt.Tooltip("n:Q", title=say.VISITS),
            ],
        )
    )
    return layer


def _counts(tenths: pl.DataFrame) -> alt.Chart:
    """Write the visits below each bar, or above it where there is no room below."""
    near = f"datum.low < {_NEAR}"
    layer: alt.Chart = (
        alt.Chart(tenths)
        .transform_calculate(end=f"{near} ? datum.high : datum.low")
        .mark_text(aria=False, dy=alt.expr(f"{near} ? -11 : 11"), color=theme.SOFT)
        .encode(x=_x(), y=_y("end"), text=alt.Text("n:Q"))
    )
    return layer
