"""The look of every chart: colours that colour-blind eyes can tell apart, in light and in dark.

A chart names its colours as variables of the page (``sheet/sheet.css`` holds their values), so one drawing serves the
bright workshop, the dark office and the printer.  Colour never speaks alone: a
shape, a fill or a number says the same.

Source of the colours: M. Okabe and K. Ito, "Color Universal Design" (2002); the
map's five steps are taken from the cividis scale of J. R. Nunez, C. R. Anderton
and R. S. Renslow, "Optimizing colormaps with consideration for color vision
deficiency", PLOS ONE 13 (2018).
"""

from __future__ import annotations

import textwrap
from typing import Any

import altair as alt

INK = "var(--ink)"
SOFT = "var(--soft)"
HAIR = "var(--hair)"
SHEET = "var(--sheet)"
MAIN = "var(--main)"
OTHER = "var(--other)"
GOOD = "var(--good)"
TINT = "var(--tint)"
FAINT = 0.1
KEPT = "kept"
NARROW = 520  # pixels: a narrower picture has no room for a long name in one line
LINE = 40  # letters of a line on a phone
LINE_HEIGHT = 13  # pixels from one line of a label to the next
FOLD = "\N{INVISIBLE TIMES}"  # stands unseen where a long name may be broken
MAP_STEPS = [f"var(--map-{step})" for step in range(1, 6)]
MAP_INKS = [f"var(--map-ink-{step})" for step in range(1, 6)]

_FONT = "system-ui, -apple-system, 'Segoe UI', 'Noto Sans', sans-serif"
_TEXT = {"labelFont": _FONT, "titleFont": _FONT, "labelColor": SOFT, "titleColor": INK, "labelFontSize": 12}
CONFIG: dict[str, Any] = {
    "font": _FONT,
    "background": None,
    "view": {"stroke": None},
    "axis": {
        **_TEXT,
        "titleFontSize": 12,
        "titleFontWeight": 600,
        "domainColor": SOFT,
        "tickColor": HAIR,
        "gridColor": HAIR,
        "labelLimit": 0,
    },
    "legend": {
        **_TEXT,
        "titleFontSize": 12,
        "titleFontWeight": 600,
        "labelColor": INK,
        "orient": "top",
        "titleOrient": "top",
        "labelLimit": 0,
        "titleLimit": 0,
        "symbolSize": 110,
        "layout": {"top": {"direction": "vertical", "anchor": "start", "offset": 12}},
    },
    "text": {"font": _FONT, "fontSize": 12, "fill": INK},
}


def spec(chart: alt.TopLevelMixin, description: str) -> dict[str, Any]:
    """Return a chart as the JSON-ready mapping that the page draws, in the house's look.

    Args:
        chart: Any Altair chart.
        description: One sentence for those who do not see the picture.

    Returns:
        A Vega-Lite specification; the same chart gives the same mapping.
    """
    # Not held against the schema of Vega-Lite here, which takes longer than drawing: the tests of the charts do.
    drawn: dict[str, Any] = chart.to_dict(validate=False)
    return {**drawn, "config": CONFIG, "description": description}


def kept() -> Any:
    """Return the chart's parameter ``kept``: the families that keep their strength, none named for all."""
    return alt.param(name=KEPT, value=[])


def faded(full: float) -> Any:
    """Return an opacity: ``full`` for marks whose field ``family`` is kept, faint for the others."""
    chosen = alt.when(f"length({KEPT}) == 0 || indexof({KEPT}, datum.family) >= 0")
    return chosen.then(alt.value(full)).otherwise(alt.value(FAINT))


def folded(name: str) -> str:
    """Return a name with an unseen mark where a narrow picture goes on in a second line; short ones stay as they are.

    The mark stands behind the code, or where a longer wording fills the line.  The axis of :func:`above` breaks the
    line there, or puts a blank where there is room.
    """
    if len(name) <= LINE:
        return name
    code, _, wording = name.partition(" ")
    first = code if len(wording) <= LINE else textwrap.wrap(name, LINE)[0]
    return f"{first}{FOLD}{name[len(first) :].lstrip()}"


def unfolds(label: str) -> str:
    """Return a Vega expression: the lines of a label that :func:`folded` made.

    Args:
        label: The expression that gives the label.
    """
    return f"width < {NARROW} ? split({label}, '{FOLD}') : join(split({label}, '{FOLD}'), ' ')"


def above(grid: bool = False) -> alt.Axis:
    """Return an axis whose names stand above their lines, inside the picture: a phone keeps its width for the marks."""
    return alt.Axis(
        title=None,
        domain=False,
        ticks=False,
        labelAlign="left",
        labelPadding=0,
        labelOffset=-13,
        labelColor=INK,
        labelLimit=alt.expr("width"),
        labelLineHeight=LINE_HEIGHT,
        labelExpr=unfolds("datum.label"),
        grid=grid,
    )
