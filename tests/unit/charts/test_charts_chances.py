"""The charts of chances: what parts cleared, what first tries cost, what held; no number but those of the tables."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

import polars as pl
import pytest

from analysis.charts.cluster_chart import MOST_PARTS, cluster_chart, shown_results
from analysis.charts.cost_chance import MANY, cost_chance, first_tries
from analysis.charts.reliability_chart import reliability_chart
from tests.support.sample_charts import TABLES, TEXTS, all_charts, drawn_rows, mark_layers, svg
from tests.support.sample_report import prepared


def clusters(part_results: pl.DataFrame | None = None) -> dict[str, Any]:
    """The sample's families and parts, or those with other results."""
    results = TABLES["part_results"] if part_results is None else part_results
    spec = cluster_chart(results, TABLES["families"], TEXTS)
    assert spec is not None
    return spec


def data(spec: dict[str, Any], choose: str) -> list[dict[str, Any]]:
    """The rows behind boxes, codes or parts."""
    [rows] = [
        rows for rows in spec["datasets"].values() if rows and rows[0].get("choose") == choose and "at" in rows[0]
    ]
    return rows


def test_clear_rates_are_those_of_the_table():
    table = {(row["part"], row["family"]): row for row in TABLES["part_results"].to_dicts()}
    drawn = data(clusters(), "part")
    assert {(row["name"], row["family"]) for row in drawn} == set(table)
    for row in drawn:
        wanted = table[row["name"], row["family"]]
        assert [row[name] for name in ("rate", "low", "high", "erased")] == [
            wanted[name] for name in ("rate", "rate_low", "rate_high", "erase_rate")
        ]
        told = f"● {wanted['cleared']} of {wanted['jobs']}"
        bare = f"   ◇ {wanted['erase_cleared']} of {wanted['erase_jobs']}" if wanted["erase_jobs"] else ""
        assert row["told"] == told + bare


def test_every_family_is_a_box_of_its_codes_with_the_root_first():
    boxes, codes = data(clusters(), "family"), data(clusters(), "code")
    assert {box["family"] for box in boxes} == set(TABLES["families"]["family"])
    for row in TABLES["families"].to_dicts():
        mine = [code for code in codes if code["family"] == row["family"]]
        assert {code["name"] for code in mine} == set(row["codes"].split(";"))
        [box] = [box for box in boxes if box["family"] == row["family"]]
        assert all(box["at"] < code["at"] < box["low"] and box["at_n"] < code["at_n"] < box["low_n"] for code in mine)
        if row["root"]:
            assert (mine[0]["name"], mine[0]["sign"]) == (row["root"], "◆")
            assert min(mine, key=lambda code: code["at"]) == mine[0]
        signs = {code["name"]: code["sign"] for code in mine}
        assert {name for name, sign in signs.items() if sign == "●"} == set((row["knock_on"] or "").split(";")) - {""}


def test_the_parts_of_a_family_stand_beside_it_and_on_a_phone_below_it():
    boxes = {box["family"]: box for box in data(clusters(), "family")}
    for place in ("", "_n"):
        tops = sorted((box[f"at{place}"], box[f"floor{place}"]) for box in boxes.values())
        assert all(floor < top for (_, floor), (top, _) in pairwise(tops)), "no family meets the next"
    for part in data(clusters(), "part"):
        box = boxes[part["family"]]
        assert box["at"] <= part["at"] <= box["floor"] - 36
        assert box["low_n"] <= part["at_n"] <= box["floor_n"] - 36


def test_the_surest_three_parts_of_each_family_are_shown_by_lower_end():
    rows = [
        {"part": f"p{number}", "family": family, "jobs": number + 2, "cleared": 0, "rate_low": low}
        for family in ("a", "b")
        for number, low in enumerate((0.1, 0.5, 0.3, 0.2))
    ]
    families = prepared(
        "families", [{"family": name, "vehicles": cars, "codes": "M:1"} for name, cars in (("a", 1), ("b", 9))]
    )
    shown = shown_results(prepared("part_results", rows), families)
    assert MOST_PARTS == 3
    assert shown.select("family", "part").rows() == [(family, part) for family in "ba" for part in ("p1", "p2", "p3")]


def test_a_single_job_is_shown_only_where_there_is_nothing_else():
    families = prepared("families", [{"family": "f", "vehicles": 3, "codes": "M:1"}])
    rows = [{"part": part, "family": "f", "jobs": jobs} for part, jobs in (("a", 1), ("b", 2), ("c", 1))]
    assert shown_results(prepared("part_results", rows), families)["part"].to_list() == ["b"]
    assert shown_results(prepared("part_results", [rows[0], rows[2]]), families)["part"].to_list() == ["a", "c"]


def test_what_says_next_to_nothing_is_left_to_the_table_and_what_says_something_comes_first():
    families = prepared(
        "families", [{"family": name, "vehicles": cars, "codes": "M:1"} for name, cars in (("a", 1), ("b", 9))]
    )
    rows = [
        {"part": "hose", "family": "a", "jobs": 2, "cleared": 1, "rate": 0.5, "rate_low": 0.03, "rate_high": 0.97},
        {"part": "relay", "family": "a", "jobs": 12, "cleared": 0, "rate": 0.0, "rate_low": 0.0, "rate_high": 0.22},
        {"part": "pump", "family": "a", "jobs": 2, "cleared": 0, "rate": 0.0, "rate_low": 0.0, "rate_high": 0.78},
        {"part": "pump", "family": "b", "jobs": 3, "cleared": 0, "rate": 0.0, "rate_low": 0.0, "rate_high": 0.63},
    ]
    spec = cluster_chart(prepared("part_results", rows), families, {})
    assert [(part["family"], part["name"]) for part in data(spec, "part")] == [("a", "hose"), ("a", "relay")]
    beside = {box["family"]: box["beside"] for box in data(spec, "family")}
    assert list(beside.items()) == [("a", ""), ("b", "no part has cleared it yet; see the table")]


def test_a_family_that_no_part_was_tried_on_says_so():
    spec = clusters(TABLES["part_results"].clear())
    assert {box["beside"] for box in data(spec, "family")} == {"no job with one part alone yet"}
    assert svg(spec).count("no job with one part alone yet") == TABLES["families"].height
    assert cluster_chart(TABLES["part_results"], TABLES["families"].clear(), {}) is None


def test_a_chosen_part_keeps_its_strength_and_a_chosen_code_its_colour():
    spec = clusters()

    def chosen(**values: object) -> str:
        params = [
            param | ({"value": values[param["name"]]} if param["name"] in values else {}) for param in spec["params"]
        ]
        return svg(spec | {"params": params})

    plain = chosen()
    assert plain.count('opacity="0.1"') == 0
    lines = TABLES["part_results"].height
    marks = lines + TABLES["part_results"]["erase_rate"].count()
    # The other parts' link, bar, marks, name and counts fade.
    own = TABLES["part_results"].filter(pl.col("part") == "battery")
    wanted = 4 * (lines - own.height) + marks - own.height - own["erase_rate"].count()
    assert chosen(part="battery").count('opacity="0.1"') == wanted
    assert chosen(code="ECM:P0562").count("var(--main)") > plain.count("var(--main)")


def test_on_a_phone_no_line_runs_from_box_to_part():
    spec = clusters()
    narrow = [param | ({"value": True} if param["name"] == "narrow" else {}) for param in spec["params"]]
    drawn = svg(spec | {"params": narrow, "height": spec["usermeta"]["narrow"]})
    assert drawn.count('opacity="0"') == TABLES["part_results"].height
    assert svg(spec).count('opacity="0"') == 0


def tries(*rows: dict[str, object]) -> pl.DataFrame:
    """First tries at 50 units with a chance of a half, but for what the rows say."""
    usual = {"rank": 1, "action": "replace", "part": "p", "total_cost": 5000, "chance": 0.5, "cheap": True}
    usual |= {"chance_low": 0.4, "chance_high": 0.7}
    return prepared("shortlist", [usual | row for row in rows])


def test_cars_at_the_same_place_share_a_mark():
    first = first_tries(
        tries({"vehicle": "C"}, {"vehicle": "A"}, {"vehicle": "B", "chance": 0.6}, {"vehicle": "A", "rank": 2})
    )
    assert first.select("vehicle", "point").rows() == [("A", "A"), ("B", "B"), ("C", "A")]


@pytest.mark.parametrize(
    "unknown", [{"total_cost": None}, {"chance": None}, {"action": "specialist"}, {"action": "leave"}]
)
def test_a_first_try_without_cost_or_chance_is_not_drawn(unknown: dict[str, object]):
    listed = tries({"vehicle": "A", **unknown}, {"vehicle": "B"})
    assert first_tries(listed)["point"].to_list() == [None, "B"]
    spec = cost_chance(listed, "EUR", None)
    assert spec is not None
    assert [row["cars"] for row in drawn_rows(spec)[0]] == ["B"]
    assert cost_chance(listed.filter(pl.col("vehicle") == "A"), "EUR", None) is None


def test_costs_and_chances_are_those_of_the_table():
    spec = cost_chance(TABLES["shortlist"], "EUR", 60.0)
    assert spec is not None
    limit, spans, points = drawn_rows(spec)
    assert limit == [{"limit": 60.0}]
    assert spans == points
    columns = ("total_cost", "chance", "chance_low", "chance_high", "action", "cheap")
    drawn = [(car, *(row[name] for name in columns)) for row in points for car in row["cars"].split(", ")]
    first = TABLES["shortlist"].filter((pl.col("rank") == 1) & (pl.col("action") != "specialist"))
    assert sorted(drawn) == sorted(first.select("vehicle", *columns).rows())
    assert spec["params"] == [{"name": "picked", "value": []}]


def test_a_legend_names_what_differs_and_nothing_else():
    for actions, wanted in ((["replace", "repair"], True), (["replace"], False)):
        spec = cost_chance(tries(*({"vehicle": action, "action": action} for action in actions)), "EUR", None)
        assert spec is not None
        assert (spec["layer"][-1]["encoding"]["shape"]["legend"] is not None) == wanted
        assert (">replace</text>" in svg(spec)) == wanted


def test_the_legend_calls_a_recheck_what_the_page_calls_it():
    spec = cost_chance(
        tries(*({"vehicle": action, "action": action} for action in ("replace", "recheck"))), "EUR", None
    )
    drawn = svg(spec)
    assert ">record, erase, drive, scan again</text>" in drawn
    assert "recheck<" not in drawn


def test_the_intervals_of_many_marks_are_fainter():
    for marks, wanted in ((MANY, 0.35), (MANY + 1, 0.15)):
        rows = ({"vehicle": f"v{place}", "total_cost": 100 * place} for place in range(marks))
        spec = cost_chance(tries(*rows), "EUR", None)
        assert spec is not None
        assert spec["layer"][0]["encoding"]["opacity"]["condition"][0]["value"] == wanted


def test_a_picked_mark_keeps_its_strength_and_the_others_fade():
    spec = cost_chance(tries({"vehicle": "A"}, {"vehicle": "B", "chance": 0.6}), "EUR", None)
    assert spec is not None
    faded = svg(spec | {"params": [{"name": "picked", "value": ["A"]}]})
    assert svg(spec).count('opacity="0.12"') == 0
    assert faded.count('opacity="0.12"') == 2  # the other car's mark and its interval


def test_chances_and_what_happened_are_those_of_the_table():
    spec = all_charts()["trust"]
    ideal, *layers = drawn_rows(spec)
    assert ideal == [{"predicted": share, "observed": share} for share in (0.0, 1.0)]
    assert all(rows == TABLES["reliability"].to_dicts() for rows in layers)
    places = [(layer["encoding"]["x"]["field"], layer["encoding"]["y"]["field"]) for layer in spec["layer"]]
    assert places == [("predicted", name) for name in ("observed", "low", "observed", "observed", "end")]
    (span,) = mark_layers(spec, "rule")
    assert span["encoding"]["y2"]["field"] == "high"
    assert f"on {TABLES['reliability']['n'].sum()} past visits" in spec["description"]
    assert reliability_chart(TABLES["reliability"].clear()) is None


def test_a_count_stands_below_its_bar_or_above_it_where_the_bar_begins_at_the_foot():
    ends = [(0.0, 0.2, 11), (0.05, 0.3, 12), (0.07, 0.5, 13), (0.6, 0.9, 14)]
    rows = [{"tenth": k + 1, "predicted": k / 10 + 0.05, "observed": (low + high) / 2, "low": low, "high": high, "n": n}
            for k, (low, high, n) in enumerate(ends)]  # fmt: skip
    spec = reliability_chart(prepared("reliability", rows))
    assert spec is not None
    picture = svg(spec | {"height": 300, "padding": 0, "config": spec["config"] | {"axis": {"disable": True}}})
    places = {int(n): float(y) for y, n in re.findall(r'translate\([\d.]+,([-\d.]+)\)"[^>]*>(\d+)</text>', picture)}
    for low, high, n in ends:
        above = low < 0.06
        assert (places[n] < 300 * (1 - high)) == above
        assert (places[n] > 300 * (1 - low)) == (not above)
        assert places[n] < 300, "it stands in the picture, not among the numbers of the axis"
