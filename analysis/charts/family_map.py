"""The family map: which codes show up together, code by code.

A square where two codes meet holds the number of cars that showed both.  Codes
of one family stand side by side inside one frame.  A code does not meet itself:
on the diagonal stands its role, a diamond for a root, a dot for a knock-on.
"""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from analysis.charts import theme
from analysis.texts import chart_text as say

MOST_CODES = 60
_WIDTH = 740  # pixels for all squares together
_SEES_NUMBERS = 22  # a smaller square has no room for a number


def shown_families(families: pl.DataFrame) -> pl.DataFrame:
    """Return the families that fit on the map, the most common first.

    Args:
        families: The columns of ``families.csv``.

    Returns:
        The first rows by vehicles and then name whose distinct codes are at most ``MOST_CODES`` together; a
        family that does not fit is left out, smaller ones behind it may still fit.
    """
    ranked = families.sort("vehicles", "family", descending=[True, False], nulls_last=True)
    codes: set[str] = set()
    kept = []
    for row, joined in enumerate(ranked["codes"]):
        wanted = codes | set(joined.split(";"))
        if len(wanted) <= MOST_CODES:
            codes = wanted
            kept.append(row)
    return ranked[kept]


def places(families: pl.DataFrame) -> pl.DataFrame:
    """Return the order of the codes on the map.

    Args:
        families: Families with ``;``-separated codes, root and ``;``-separated knock_on.

    Returns:
        One row per distinct code: code, family (the first that holds it), role ("root", "knock-on" or null).
        Inside a family the root comes first, then the others by name.
    """
    rows: dict[str, tuple[str, str | None]] = {}
    for family, joined, root, knock_on in families.select("family", "codes", "root", "knock_on").iter_rows():
        followers = set((knock_on or "").split(";"))
        for code in sorted(joined.split(";"), key=lambda code: (code != root, code)):
            role = "root" if code == root else "knock-on" if code in followers else None
            rows.setdefault(code, (family, role))
    table = [(code, family, role) for code, (family, role) in rows.items()]
    return pl.DataFrame(table, schema=dict.fromkeys(("code", "family", "role"), pl.String), orient="row")


def pairs(rules: pl.DataFrame, codes: list[str]) -> pl.DataFrame:
    """Return the rules between two single codes of the map, one row a pair.

    Args:
        rules: The columns of ``rules.csv``.
        codes: The codes on the map, in order.

    Returns:
        code_a, code_b, vehicles, odds_ratio, odds_low, odds_high, verdict; where a rule stands in both
        directions the first by antecedent is kept.  Sorted by vehicles, the most first.
    """
    single = rules.filter(pl.col("antecedent").is_in(codes) & pl.col("consequent").is_in(codes))
    return (
        single.with_columns(
            code_a=pl.min_horizontal("antecedent", "consequent"), code_b=pl.max_horizontal("antecedent", "consequent")
        )
        .sort("antecedent", "consequent")
        .unique(["code_a", "code_b"], keep="first", maintain_order=True)
        .select("code_a", "code_b", "vehicles", "odds_ratio", "odds_low", "odds_high", "verdict")
        .sort("vehicles", "code_a", "code_b", descending=[True, False, False])
    )


def with_weeks(told: pl.DataFrame, weeks: pl.DataFrame) -> pl.DataFrame:
    """Add ``since``, the week of the report that confirmed a pair, to the rows of ``pairs``; null where none did.

    Args:
        told: What ``pairs`` returned.
        weeks: The columns of ``verdict_weeks.csv``.
    """
    either = weeks.select(
        "since",
        code_a=pl.min_horizontal("antecedent", "consequent"),
        code_b=pl.max_horizontal("antecedent", "consequent"),
    )
    first = either.group_by("code_a", "code_b").agg(pl.col("since").min())
    return told.join(first, on=["code_a", "code_b"], how="left", maintain_order="left")


def family_map(rules: pl.DataFrame, families: pl.DataFrame) -> dict[str, Any] | None:
    """Draw the map.

    Args:
        rules: The columns of ``rules.csv``.
        families: The columns of ``families.csv``.

    Returns:
        A Vega-Lite specification with the parameter ``kept`` (families that keep their strength, empty for all), or
        None where no pair of codes holds together.
    """
    placed = places(shown_families(families))
    order = placed["code"].to_list()
    both = pairs(rules, order)
    if both.is_empty():
        return None
    step = max(12, min(34, _WIDTH // len(order)))
    # The frames lie undermost: a mark above a square would keep the pointer from it.
    owner = dict(placed.select("code", "family").iter_rows())
    squares = _mirrored(both, owner)
    layers = [_frames(placed, order), _squares(squares, order)]
    if step >= _SEES_NUMBERS:
        layers.append(_numbers(squares, order))
    if placed["role"].count():
        layers.append(_roles(placed, order))
    chart = alt.layer(*layers).add_params(theme.kept()).properties(width={"step": step}, height={"step": step})
    return theme.spec(
        chart.resolve_scale(color="independent", shape="independent"),
        say.map_described(len(order), placed["family"].n_unique()),
    )


def _axes(order: list[str], x: str = "right", y: str = "left") -> dict[str, Any]:
    scale = alt.Scale(domain=order, paddingInner=0.06)
    side: dict[str, Any] = {"title": None, "grid": False, "ticks": False, "domain": False}
    side["labelFontSize"] = min(12, _WIDTH // len(order) - 1)
    return {
        "x": alt.X(f"{x}:N", scale=scale, axis=alt.Axis(**side, labelAngle=-90)),
        "y": alt.Y(f"{y}:N", scale=scale, axis=alt.Axis(**side)),
    }


def _squares(both: pl.DataFrame, order: list[str]) -> alt.Chart:
    layer: alt.Chart = (
        alt.Chart(both)
        .mark_rect(aria=False, cornerRadius=2, cursor="pointer")
        .encode(
            **_axes(order),
            opacity=theme.faded(1.0),
            color=alt.Color("vehicles:Q", title=say.MAP_CARS, scale=_steps(both, theme.MAP_STEPS)),
            tooltip=_told(),
        )
    )
    return layer


def _told() -> list[alt.Tooltip]:
    return [
        alt.Tooltip("left:N", title=say.CODE),
        alt.Tooltip("right:N", title=say.WITH),
        alt.Tooltip("vehicles:Q", title=say.MAP_BOTH),
        alt.Tooltip("odds_ratio:Q", title=say.MAP_ODDS, format=".3~g"),
        alt.Tooltip("verdict:N", title=say.MAP_VERDICT),
    ]


def _steps(both: pl.DataFrame, colours: list[str]) -> alt.Scale:
    """Five even steps between the fewest and the most cars, cut at whole cars; fewer where there are fewer counts."""
    low, high = both["vehicles"].min(), both["vehicles"].max()
    assert isinstance(low, int)
    assert isinstance(high, int)
    cuts = sorted({low + -(-(high - low) * step // len(colours)) for step in range(1, len(colours))} - {low})
    return alt.Scale(type="threshold", domain=cuts, range=colours[: len(cuts) + 1])


def _numbers(both: pl.DataFrame, order: list[str]) -> alt.Chart:
    layer: alt.Chart = (
        alt.Chart(both)
        .mark_text(aria=False, fontSize=11)
        .encode(
            **_axes(order),
            text=alt.Text("vehicles:Q"),
            opacity=theme.faded(1.0),
            color=alt.Color("vehicles:Q", scale=_steps(both, theme.MAP_INKS), legend=None),
            tooltip=_told(),
        )
    )
    return layer


def _mirrored(both: pl.DataFrame, owner: dict[str, str]) -> pl.DataFrame:
    """Return each pair in both directions, with the family where both codes are of one, else null."""
    of = pl.col("code_a").replace_strict(owner), pl.col("code_b").replace_strict(owner)
    family = pl.when(of[0] == of[1]).then(of[0]).alias("family")
    shown = both.select("vehicles", "odds_ratio", "verdict", family, left="code_a", right="code_b")
    back = shown.rename({"left": "right", "right": "left"}).select(shown.columns)
    return pl.concat([shown, back])


def _frames(placed: pl.DataFrame, order: list[str]) -> alt.Chart:
    ends = placed.group_by("family", maintain_order=True).agg(
        pl.col("code").first().alias("first"), pl.col("code").last().alias("last")
    )
    axes = _axes(order, "first", "first")
    layer: alt.Chart = (
        alt.Chart(ends)
        .mark_rect(aria=False, fillOpacity=0, fill=theme.SHEET, stroke=theme.INK, strokeWidth=1.4)
        .encode(
            x=axes["x"].bandPosition(0),
            y=axes["y"].bandPosition(0),
            x2=alt.X2("last:N", bandPosition=1),
            y2=alt.Y2("last:N", bandPosition=1),
        )
    )
    return layer


def _roles(placed: pl.DataFrame, order: list[str]) -> alt.Chart:
    names = ["root", "knock-on"]
    layer: alt.Chart = (
        alt.Chart(placed.filter(pl.col("role").is_not_null()))
        .mark_point(aria=False, filled=True, size=60, color=theme.OTHER, cursor="pointer")
        .encode(
            **_axes(order, "code", "code"),
            shape=alt.Shape("role:N", title=say.MAP_ROLES, scale=alt.Scale(domain=names, range=["diamond", "circle"])),
            opacity=theme.faded(1.0),
            tooltip=[
                alt.Tooltip("code:N", title=say.CODE),
                alt.Tooltip("role:N", title=say.MAP_ROLE),
                alt.Tooltip("family:N", title=say.FAMILY),
            ],
        )
    )
    return layer
