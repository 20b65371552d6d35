"""The charts of chances: what parts cleared, what first tries cost, what held; no number but those of the tables."""

from __future__ import annotations

import re

import polars as pl
import pytest

from analysis.charts.clear_chart import MOST_LINES, clear_chart, shown_results
from analysis.charts.cost_chance import MANY, cost_chance, first_tries
from analysis.charts.reliability_chart import reliability_chart
from tests.support.sample_charts import TABLES, TEXTS, all_charts, drawn_rows, mark_layers, svg
from tests.support.sample_report import prepared


def test_clear_rates_are_those_of_the_table():
    spec = clear_chart(TABLES["part_results"], TEXTS)
    assert spec is not None
    bars, marks, counts = drawn_rows(spec)
    table = {(row["part"], row["family"]): row for row in TABLES["part_results"].to_dicts()}
    assert len(bars) == len(table)
    for row in bars:
        wanted = table[row["part"], row["family"]]
        assert {name: row[name] for name in wanted} == wanted
    own = {(row["part"], row["family"]): row["rate"] for row in marks if row["what"] == "jobs with this part alone"}
    bare = {(row["part"], row["family"]): row["rate"] for row in marks if row["what"] == "erasing alone"}
    assert own == {key: row["rate"] for key, row in table.items()}
    assert bare == {key: row["erase_rate"] for key, row in table.items() if row["erase_rate"] is not None}
    assert 0 < len(bare) < len(own)
    assert {row["told"] for row in counts} == {
        f"● {row['cleared']} of {row['jobs']}"
        + (f"   ◇ {row['erase_cleared']} of {row['erase_jobs']}" if row["erase_jobs"] else "")
        for row in table.values()
    }


def test_the_thirty_lines_with_the_most_jobs_are_shown_by_family_and_lower_end():
    rows = [
        {"part": f"p{number:02d}", "family": "ba"[number % 2], "jobs": number, "cleared": 0, "rate_low": number / 100}
        for number in range(50)
    ]
    shown = shown_results(prepared("part_results", rows))
    assert MOST_LINES == 30
    assert set(shown["jobs"]) == set(range(20, 50))
    assert shown["part"].to_list()[:3] == ["p49", "p47", "p45"]
    assert shown["family"].to_list() == ["a"] * 15 + ["b"] * 15


def test_a_single_job_is_shown_only_where_there_is_nothing_else():
    rows = [{"part": part, "family": "f", "jobs": jobs} for part, jobs in (("a", 1), ("b", 2), ("c", 1))]
    assert shown_results(prepared("part_results", rows))["part"].to_list() == ["b"]
    assert shown_results(prepared("part_results", [rows[0], rows[2]]))["part"].to_list() == ["a", "c"]


def test_each_family_stands_above_its_parts_with_its_wording():
    spec = clear_chart(TABLES["part_results"], TEXTS)
    assert spec is not None
    order = spec["layer"][0]["encoding"]["y"]["scale"]["domain"]
    table = TABLES["part_results"].filter(pl.col("family") == "ABS:C0031")
    assert order[: table.height + 1] == [
        "ABS:C0031 Wheel speed",
        *(f"{part}\N{INVISIBLE SEPARATOR}ABS:C0031" for part in shown_results(table)["part"]),
    ]
    picture = svg(spec)
    heading = re.search(r"<text[^>]*>ABS:C0031 Wheel speed</text>", picture)
    assert heading is not None
    assert 'font-weight="700"' in heading[0]
    assert re.search(r"<text[^>]*>wheel speed sensor</text>", picture), "the part is named without its family"


def test_a_part_stands_nearer_to_its_own_bar_than_to_the_one_above():
    spec = clear_chart(TABLES["part_results"], TEXTS)
    assert spec is not None
    up = -spec["layer"][0]["encoding"]["y"]["axis"]["labelOffset"]["value"]
    down = spec["layer"][0]["mark"]["yOffset"]
    line = spec["height"] / len(spec["layer"][0]["encoding"]["y"]["scale"]["domain"])
    assert up + down < 0.75 * (line - up - down)


def test_no_clear_rates_are_drawn_where_no_job_is_known():
    assert clear_chart(TABLES["part_results"].clear(), {}) is None


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
