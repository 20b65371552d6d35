"""The charts of the sample report, and what the tests look at in them: their data, their marks, the drawing itself."""

from __future__ import annotations

from functools import cache
from typing import Any

import vl_convert

from analysis.charts.cluster_chart import cluster_chart
from analysis.charts.cost_chance import cost_chance
from analysis.charts.family_map import family_map
from analysis.charts.ledger_chart import ledger_chart
from analysis.charts.reliability_chart import reliability_chart
from analysis.charts.trend_chart import trend_chart
from tests.support.sample_report import sample

TABLES, _ = sample()
TEXTS = {"ABS:C0031": "Wheel speed"}


@cache
def all_charts() -> dict[str, dict[str, Any]]:
    """The charts of the sample, drawn once for all tests; to be looked at, not changed."""
    return draw_all()


def draw_all() -> dict[str, dict[str, Any]]:
    """Draw the charts of the sample."""
    charts = {
        "trend": trend_chart(TABLES["family_weeks"], TABLES["families"], TEXTS),
        "map": family_map(TABLES["rules"], TABLES["families"]),
        "clusters": cluster_chart(TABLES["part_results"], TABLES["families"], TEXTS),
        "costs": cost_chance(TABLES["shortlist"], "EUR", 60.0),
        "trust": reliability_chart(TABLES["reliability"]),
        "ledger": ledger_chart(TABLES["ledger"]),
    }
    return {name: chart for name, chart in charts.items() if chart is not None}


def drawn_rows(spec: dict[str, Any]) -> list[list[dict[str, Any]]]:
    """The data of every layer, in the order of the layers."""
    return [spec["datasets"][layer.get("data", spec.get("data"))["name"]] for layer in spec["layer"]]


def svg(spec: dict[str, Any]) -> str:
    """Draw with the Vega engine itself; it refuses what is no Vega-Lite."""
    fixed = spec | ({"width": 500} if spec["width"] == "container" else {})
    return str(vl_convert.vegalite_to_svg(fixed))


def mark_layers(spec: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    """The layers of one kind of mark."""
    return [layer for layer in spec["layer"] if layer["mark"]["type"] == kind]
