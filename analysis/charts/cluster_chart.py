"""Which cluster of codes one part clears: families as groups of codes, and beside each the parts tried on it.

A box holds the codes of a family, the root first.  From it a line runs to every part that was fitted alone on cars
with that family; the more of those jobs cleared it, the stronger the line.  Beside the part stands the share that it
cleared: the dot is the share, the bar its interval, the open diamond what erasing alone achieved, and the counts
behind both are written out.  A part is worth its money where the bar lies to the right of the diamond.

On a desk the parts stand to the right of the codes, on a phone below them: the same rows in two layouts.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import altair as alt
import polars as pl

from analysis.charts import theme
from analysis.texts import chart_text as say

MOST_FAMILIES = 24
MOST_PARTS = 3  # of a family
MOST_CODES = 6  # of a family; how many more there are is written below them
FEWEST_JOBS = 2
SAYS_NO = 0.5  # a part that cleared nothing is drawn where its share is below this, as sure as its bar is
_CODE, _PART, _EDGE, _APART, _TOP = 18, 36, 8, 14, 6  # pixels: a code, a part, inside a box, between boxes, above all
_NAME, _BAR = 9, 24  # pixels from a part's top down to its name and to its bar
_ALL: list[Any] = [0, alt.expr("height")]
_BOX, _LINK, _BARS = 0.40, 0.45, 0.46  # shares of the width, on a desk: a box ends, a line ends, the bars begin


def shown_results(part_results: pl.DataFrame, families: pl.DataFrame) -> pl.DataFrame:
    """Return the lines that the chart shows.

    Args:
        part_results: The columns of ``part_results.csv``.
        families: The columns of ``families.csv``.

    Returns:
        Of each of the ``MOST_FAMILIES`` families with the most cars the ``MOST_PARTS`` parts with the highest lower end
        of their rate, in that order.  One job proves little: parts with fewer than ``FEWEST_JOBS`` known jobs are left
        out of a family that has others.
    """
    ranked = _ranked(families).select("family").with_row_index("place")
    lines = part_results.join(ranked, on="family").with_columns(
        enough=(pl.col("jobs") >= FEWEST_JOBS), any_enough=(pl.col("jobs") >= FEWEST_JOBS).any().over("family")
    )
    kept = lines.filter(pl.col("enough") | ~pl.col("any_enough"))
    kept = kept.sort("place", "rate_low", "jobs", "part", descending=[False, True, True, False], nulls_last=True)
    return kept.group_by("family", maintain_order=True).head(MOST_PARTS).select(part_results.columns)


def telling(results: pl.DataFrame) -> pl.DataFrame:
    """Return of these lines those that say something: the part cleared once at least, or hardly ever does.

    None of two jobs says next to nothing, and such lines crowd the picture: they stand in the table alone.
    """
    return results.filter((pl.col("cleared") > 0) | (pl.col("rate_high") < SAYS_NO))


def _ranked(families: pl.DataFrame) -> pl.DataFrame:
    return families.sort("vehicles", "family", descending=[True, False], nulls_last=True).head(MOST_FAMILIES)


def cluster_chart(
    part_results: pl.DataFrame, families: pl.DataFrame, texts: Mapping[str, str]
) -> dict[str, Any] | None:
    """Draw the families and their parts.

    Args:
        part_results: The columns of ``part_results.csv``.
        families: The columns of ``families.csv``.
        texts: The wording of codes, where it is known.

    Returns:
        A Vega-Lite specification, or None where there is no family.  Its parameters: ``kept`` (families that keep
        their strength, empty for all), ``part`` and ``code`` (the chosen one, empty text for none) and ``narrow``
        (parts below the codes; the height is then the one in ``usermeta``).  A mark's datum says by ``choose`` and
        ``name`` what a click on it chooses.
    """
    shown, ranked = shown_results(part_results, families), _ranked(families)
    results = telling(shown)
    if ranked.is_empty():
        return None
    ranked = ranked.sort(~pl.col("family").is_in(results["family"].to_list()), maintain_order=True)
    made = _rows(results, ranked, texts, set(shown["family"]))
    boxes, codes, parts = (pl.DataFrame(rows, infer_schema_length=None) for rows in made)
    layers = [_boxes(boxes), *_codes(codes), _untried(boxes)]
    if not parts.is_empty():
        layers += [
            _links(parts),
            _bars(parts),
            _marks(parts, own=False),
            _marks(parts, own=True),
            _names(parts),
            _counts(parts),
        ]
    heights = [int(boxes[name].max()) + _APART for name in ("floor", "floor_n")]  # type: ignore[arg-type]
    chosen = [alt.param(name=name, value="") for name in ("part", "code")]
    chart = alt.layer(*layers).add_params(theme.kept(), *chosen, alt.param(name="narrow", value=False))
    drawn = theme.spec(
        chart.properties(width="container", height=heights[0]), say.clusters_described(boxes.height, parts.height)
    )
    return {**drawn, "usermeta": {"narrow": heights[1]}}


def _rows(
    results: pl.DataFrame, ranked: pl.DataFrame, texts: Mapping[str, str], tested: set[str]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]], list[dict[str, Any]]]:
    """Give every box, code and part its place from above in pixels; names that end on ``_n`` are those on a phone."""
    tried = {str(key[0]): part.to_dicts() for key, part in results.partition_by("family", as_dict=True).items()}
    boxes, codes, parts = [], [], []
    top = top_n = _TOP
    for row in ranked.to_dicts():
        family = row["family"]
        lines, named = tried.get(family, []), _code_lines(row, texts)
        inside, beside = len(named) * _CODE + 2 * _EDGE, max(1, len(lines)) * _PART
        height, untold = max(inside, beside), say.NONE_CLEARED if family in tested else say.NO_PART
        first, first_n = top + max(0, (inside - beside) // 2), top_n + inside + _EDGE // 2
        boxes.append({
            "choose": "family", "name": family, "family": family, "at": top, "low": top + inside, "floor": top + height,
            "at_n": top_n, "low_n": top_n + inside, "floor_n": first_n + beside, "beside": "" if lines else untold,
            "mid": top + inside // 2, "mid_n": first_n + _PART // 2,
        })  # fmt: skip
        for place, line in enumerate(named):
            below = _EDGE + place * _CODE + _CODE // 2
            codes.append({**line, "family": family, "at": top + below, "at_n": top_n + below})
        for place, line in enumerate(lines):
            below = place * _PART
            parts.append(_part_line(line) | {"at": first + below, "at_n": first_n + below, "box": top + inside // 2})
        top, top_n = top + height + _APART, first_n + beside + _APART
    return boxes, codes, parts


def _code_lines(row: Mapping[str, Any], texts: Mapping[str, str]) -> list[dict[str, Any]]:
    followers = set((row["knock_on"] or "").split(";"))
    ordered = sorted(row["codes"].split(";"), key=lambda code: (code != row["root"], code not in followers, code))
    named = [
        {"choose": "code", "name": code, "sign": "◆" if code == row["root"] else "●" if code in followers else "○",
         "wording": texts.get(code, "")}
        for code in ordered[:MOST_CODES]
    ]  # fmt: skip
    if len(ordered) > MOST_CODES:
        more = say.more_codes(len(ordered) - MOST_CODES)
        named.append({"choose": "family", "name": row["family"], "sign": "", "wording": more})
    return named


def _part_line(line: Mapping[str, Any]) -> dict[str, Any]:
    told = say.parts_counted("●").format(line["cleared"], line["jobs"])
    erased = say.parts_counted("◇").format(line["erase_cleared"], line["erase_jobs"]) if line["erase_jobs"] else ""
    return {
        "choose": "part", "name": line["part"], "family": line["family"], "rate": line["rate"], "low": line["rate_low"],
        "high": line["rate_high"], "erased": line["erase_rate"],
        "told": "   ".join(one for one in (told, erased) if one),
    }  # fmt: skip


def _pixels() -> alt.Scale:
    """Count from above in pixels."""
    return alt.Scale(domain=_ALL, range=_ALL, nice=False, zero=False)


def _y(name: str) -> alt.Y:
    return alt.Y(f"{name}_y:Q", axis=None, scale=_pixels())


def _laid(rows: pl.DataFrame, down: int = 0, names: tuple[str, ...] = ("at",)) -> alt.Chart:
    """Return a chart of rows whose places follow the layout, moved down by some pixels."""
    chart = alt.Chart(rows)
    for name in names:
        chart = chart.transform_calculate(f"{name}_y", f"(narrow ? datum.{name}_n : datum.{name}) + {down}")
    return chart


def _wide(share: float, narrow: float = 0.0) -> Any:
    return alt.expr(f"(narrow ? {narrow} : {share}) * width")


def _share(field: str) -> alt.X:
    axis = alt.Axis(format=".0%", title=say.PARTS_RATE, values=[0, 0.25, 0.5, 0.75, 1], orient="top")
    return alt.X(f"{field}:Q", scale=alt.Scale(domain=[0, 1], range=[_wide(_BARS), alt.expr("width")]), axis=axis)


def _lined(full: float, hidden: str = "false") -> Any:
    kept = f"(length({theme.KEPT}) == 0 || indexof({theme.KEPT}, datum.family) >= 0)"
    strong = alt.when(f"!({hidden}) && {kept} && (part == '' || part == datum.name)").then(alt.value(full))
    return strong.when(hidden).then(alt.value(0)).otherwise(alt.value(theme.FAINT))


def _boxes(rows: pl.DataFrame) -> alt.Chart:
    layer: alt.Chart = (
        _laid(rows, names=("at", "low"))
        .mark_rect(
            aria=False, x=0, x2=_wide(_BOX, 1.0), fill=theme.TINT, stroke=theme.HAIR, cornerRadius=6, cursor="pointer"
        )
        .encode(y=_y("at"), y2=alt.Y2("low_y:Q"), opacity=theme.faded(1.0))
    )
    return layer


def _codes(rows: pl.DataFrame) -> list[alt.Chart]:
    base = _laid(rows)
    chosen = alt.when("code != '' && code == datum.name").then(alt.value(theme.MAIN)).otherwise(alt.value(theme.INK))
    tips = [alt.Tooltip("name:N", title=say.CODE), alt.Tooltip("wording:N", title=say.WORDING)]
    said: dict[str, Any] = {"aria": False, "align": "left", "baseline": "middle", "cursor": "pointer"}
    common: dict[str, Any] = {"y": _y("at"), "opacity": theme.faded(1.0)}
    signs = base.transform_filter("datum.sign != ''").mark_text(**said, x=10, color=theme.OTHER)
    keys = base.transform_filter("datum.sign != ''").mark_text(
        **said, x=26, font="ui-monospace, Menlo, Consolas, monospace", fontSize=11.5, fontWeight=600, limit=124
    )
    words = base.mark_text(**said, x=154, limit=alt.expr(f"(narrow ? 1 : {_BOX}) * width - 162"))
    return [
        signs.encode(text=alt.Text("sign:N"), **common),
        keys.encode(text=alt.Text("name:N"), color=chosen, tooltip=tips, **common),
        words.encode(text=alt.Text("wording:N"), color=alt.ColorValue(theme.SOFT), tooltip=tips, **common),
    ]


def _untried(rows: pl.DataFrame) -> alt.Chart:
    layer: alt.Chart = (
        _laid(rows, names=("mid",))
        .mark_text(aria=False, align="left", baseline="middle", x=_wide(_BARS), color=theme.SOFT, fontStyle="italic")
        .encode(y=_y("mid"), text=alt.Text("beside:N"), opacity=theme.faded(1.0))
    )
    return layer


def _links(rows: pl.DataFrame) -> alt.Chart:
    layer: alt.Chart = (
        _laid(rows, _BAR)
        .mark_rule(aria=False, color=theme.MAIN, strokeCap="round")
        .encode(
            x=alt.value(_wide(_BOX)), x2=alt.value(_wide(_LINK)),
            y=alt.Y("box:Q", axis=None, scale=_pixels()), y2=alt.Y2("at_y:Q"),
            opacity=_lined(0.55, "narrow"),
            strokeWidth=alt.StrokeWidth("rate:Q", scale=alt.Scale(domain=[0, 1], range=[0.6, 7]), legend=None),
        )
    )  # fmt: skip
    return layer


def _bars(rows: pl.DataFrame) -> alt.Chart:
    layer: alt.Chart = (
        _laid(rows, _BAR)
        .mark_rule(aria=False, strokeWidth=8, color=theme.MAIN, cursor="pointer")
        .encode(x=_share("low"), x2=alt.X2("high:Q"), y=_y("at"), opacity=_lined(0.35))
    )
    return layer


def _marks(rows: pl.DataFrame, own: bool) -> alt.Chart:
    names = [say.PARTS_OWN, say.PARTS_ERASE]
    field, name = ("rate", say.PARTS_OWN) if own else ("erased", say.PARTS_ERASE)
    tips = [
        alt.Tooltip("name:N", title=say.PART), alt.Tooltip("family:N", title=say.FAMILY),
        alt.Tooltip("rate:Q", title=say.PARTS_CLEARED, format=".0%"),
        alt.Tooltip("erased:Q", title=say.PARTS_ERASE, format=".0%"), alt.Tooltip("told:N", title=say.JOBS),
    ]  # fmt: skip
    layer: alt.Chart = (
        _laid(rows, _BAR)
        .transform_filter(f"isValid(datum.{field})")
        .transform_calculate("what", json.dumps(name))
        .mark_point(aria=False, size=90, strokeWidth=2, cursor="pointer")
        .encode(
            x=_share(field),
            y=_y("at"),
            shape=alt.Shape("what:N", title=None, scale=alt.Scale(domain=names, range=["circle", "diamond"])),
            stroke=alt.Stroke("what:N", title=None, scale=alt.Scale(domain=names, range=[theme.MAIN, theme.OTHER])),
            fill=alt.Fill("what:N", title=None, scale=alt.Scale(domain=names, range=[theme.MAIN, theme.SHEET])),
            opacity=_lined(1.0),
            tooltip=tips,
        )
    )
    return layer


def _names(rows: pl.DataFrame) -> alt.Chart:
    layer: alt.Chart = (
        _laid(rows, _NAME)
        .mark_text(
            aria=False, align="left", baseline="middle", x=_wide(_BARS), fontWeight=600, cursor="pointer",
            limit=_wide(0.34, 0.6),
        )
        .encode(y=_y("at"), text=alt.Text("name:N"), opacity=_lined(1.0))
    )  # fmt: skip
    return layer


def _counts(rows: pl.DataFrame) -> alt.Chart:
    layer: alt.Chart = (
        _laid(rows, _NAME)
        .mark_text(aria=False, align="right", baseline="middle", x=alt.expr("width"), color=theme.SOFT)
        .encode(y=_y("at"), text=alt.Text("told:N"), opacity=_lined(1.0))
    )
    return layer
