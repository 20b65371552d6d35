"""The charts: pure functions of the tables, drawing no number that a table does not hold."""

from __future__ import annotations

import re
from datetime import date
from importlib.resources import files
from typing import Any

import polars as pl
import pytest
import vl_convert

from analysis.charts import theme
from analysis.charts.clear_chart import MOST_LINES, clear_chart, shown_results
from analysis.charts.cost_chance import MANY, cost_chance, first_tries
from analysis.charts.family_map import MOST_CODES, family_map, pairs, places, shown_families
from analysis.charts.reliability_chart import reliability_chart
from analysis.charts.trend_chart import MOST_FAMILIES, shown_weeks, trend_chart
from tests.sample_report import prepared, sample

TABLES, _ = sample()
TEXTS = {"ABS:C0031": "Wheel speed"}
FAMILIES = prepared(
    "families",
    [
        {"family": "small", "vehicles": 4, "codes": "X:9;X:1", "root": None},
        {"family": "large", "vehicles": 9, "codes": "B:2;A:1;C:3", "root": "B:2", "knock_on": "A:1"},
    ],
)
RULES = prepared(
    "rules",
    [
        {"antecedent": a, "consequent": b, "vehicles": vehicles, "odds_ratio": odds, "verdict": "likely"}
        for a, b, vehicles, odds in [
            ("B:2", "A:1", 7, 9.0), ("A:1", "B:2", 7, 9.0), ("C:3", "A:1", 5, None), ("X:1", "X:9", 3, 4.5),
            ("A:1;C:3", "B:2", 4, 8.0), ("A:1", "Z:0", 6, 8.0),
        ]
    ],
)  # fmt: skip


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


def test_families_stand_side_by_side_the_most_common_first_and_roots_lead():
    assert places(shown_families(FAMILIES)).rows() == [
        ("B:2", "large", "root"),
        ("A:1", "large", "knock-on"),
        ("C:3", "large", None),
        ("X:1", "small", None),
        ("X:9", "small", None),
    ]


def test_a_long_name_is_folded_behind_its_code_or_where_its_line_is_full():
    assert theme.folded("ECM:P0562 System voltage low") == "ECM:P0562 System voltage low"
    assert (
        theme.folded("ECM:P0685 Main relay, control circuit open")
        == f"ECM:P0685{theme.FOLD}Main relay, control circuit open"
    )
    long = theme.folded("ECM:P0128 Thermostat: coolant is below its regulating temperature")
    first, second = long.split(theme.FOLD)
    assert (first, second) == ("ECM:P0128 Thermostat: coolant is below", "its regulating temperature")
    assert len(first) <= theme.LINE


def test_a_code_of_two_families_stands_in_the_first():
    twice = prepared("families", [{"family": name, "vehicles": 5, "codes": "A:1;B:2"} for name in ("one", "two")])
    assert places(twice)["family"].to_list() == ["one", "one"]


def test_the_map_holds_at_most_sixty_codes_and_skips_a_family_that_does_not_fit():
    sizes = {"huge": 40, "large": 30, "little": 20}
    families = prepared(
        "families",
        [
            {"family": name, "vehicles": 100 - place, "codes": ";".join(f"{name}:{code}" for code in range(size))}
            for place, (name, size) in enumerate(sizes.items())
        ],
    )
    assert MOST_CODES == 60
    assert shown_families(families)["family"].to_list() == ["huge", "little"]


def test_pairs_are_counted_once_and_only_between_codes_of_the_map():
    order = places(FAMILIES)["code"].to_list()
    assert pairs(RULES, order).select("code_a", "code_b", "vehicles", "odds_ratio").rows() == [
        ("A:1", "B:2", 7, 9.0),
        ("A:1", "C:3", 5, None),
        ("X:1", "X:9", 3, 4.5),
    ]


def test_the_map_draws_each_pair_twice_and_leaves_the_diagonal_to_the_roles():
    spec = family_map(RULES, FAMILIES)
    assert spec is not None
    frames, squares, numbers, roles = drawn_rows(spec)
    assert sorted((row["left"], row["right"], row["vehicles"]) for row in squares) == [
        ("A:1", "B:2", 7), ("A:1", "C:3", 5), ("B:2", "A:1", 7), ("C:3", "A:1", 5),
        ("X:1", "X:9", 3), ("X:9", "X:1", 3),
    ]  # fmt: skip
    assert numbers == squares
    assert [(row["first"], row["last"]) for row in frames] == [("B:2", "C:3"), ("X:1", "X:9")]
    assert [(row["code"], row["role"]) for row in roles] == [("B:2", "root"), ("A:1", "knock-on")]
    picture = svg(spec)
    assert len(re.findall(r'<text[^>]*fill="var\(--map-ink-\d\)"[^>]*>\d+<', picture)) == len(squares)
    assert len(re.findall(r'<path[^>]*fill="var\(--map-\d\)"', picture)) >= len(squares)


def test_there_is_no_map_where_nothing_holds_together():
    assert family_map(RULES.clear(), FAMILIES) is None
    assert family_map(RULES, FAMILIES.clear()) is None


def test_a_large_map_has_no_numbers_in_its_squares_and_still_says_them_on_hover():
    codes = [f"M:{number:02d}" for number in range(40)]
    families = prepared("families", [{"family": "f", "vehicles": 5, "codes": ";".join(codes)}])
    rule = {"antecedent": codes[0], "consequent": codes[1], "vehicles": 3, "verdict": "likely"}
    spec = family_map(prepared("rules", [rule]), families)
    assert spec is not None
    assert not mark_layers(spec, "text")
    assert "vehicles" in [tip["field"] for tip in mark_layers(spec, "rect")[1]["encoding"]["tooltip"]]


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


@pytest.mark.parametrize("unknown", [{"total_cost": None}, {"chance": None}, {"action": "specialist"}])
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


@pytest.mark.parametrize("name", ["map", "parts", "costs", "trend", "trust"])
def test_every_chart_is_described_once_and_its_marks_are_silent(name: str):
    spec = all_charts()[name]
    assert spec["description"].endswith((".", "here."))
    assert all(layer["mark"]["aria"] is False for layer in spec.get("layer", [spec]))
    assert "<path aria-" not in svg(spec)


@pytest.mark.parametrize("name", ["map", "parts", "costs", "trend", "trust"])
def test_the_same_tables_give_the_same_chart(name: str):
    assert all_charts()[name] == all_charts()[name]
    assert svg(all_charts()[name]).count("<path") > 10


def test_the_weeks_are_those_of_the_table_and_the_most_common_families_stand_on_top():
    spec = all_charts()["trend"]
    (rows,) = spec["datasets"].values()
    wanted = TABLES["family_weeks"].with_columns(pl.col("week").cast(pl.Datetime).dt.strftime("%Y-%m-%dT%H:%M:%S"))
    assert sorted((row["family"], row["week"], row["vehicles"]) for row in rows) == wanted.rows()
    order = TABLES["families"].sort("vehicles", "family", descending=[True, False])["family"].to_list()
    order = [f"{family} {TEXTS[family]}" if family in TEXTS else family for family in order]
    assert spec["encoding"]["y"]["scale"]["domain"] == order


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


def test_the_trend_holds_twenty_families_at_most_and_none_where_there_is_no_week():
    names = [f"f{number:02d}" for number in range(MOST_FAMILIES + 5)]
    families = prepared("families", [{"family": name, "codes": "A:1", "vehicles": 1} for name in reversed(names)])
    weeks = prepared("family_weeks", [{"family": n, "week": date(2026, 11, 23), "vehicles": 1} for n in names])
    assert shown_weeks(weeks, families)["family"].to_list() == names[:20]
    assert trend_chart(weeks.clear(), families, {}) is None


@pytest.mark.parametrize("name", ["map", "parts", "trend"])
def test_a_kept_family_keeps_its_strength_and_the_others_fade(name: str):
    spec = all_charts()[name]
    assert spec["params"] == [{"name": "kept", "value": []}]
    kept = svg(spec | {"params": [{"name": "kept", "value": ["ABS:C0031"]}]})
    assert svg(spec).count('opacity="0.1"') == 0
    faint, full = kept.count('opacity="0.1"'), svg(spec).count("<path")
    assert 0 < faint < full


def all_charts() -> dict[str, dict[str, Any]]:
    """The charts of the sample."""
    charts = {
        "trend": trend_chart(TABLES["family_weeks"], TABLES["families"], TEXTS),
        "map": family_map(TABLES["rules"], TABLES["families"]),
        "parts": clear_chart(TABLES["part_results"], TEXTS),
        "costs": cost_chance(TABLES["shortlist"], "EUR", 60.0),
        "trust": reliability_chart(TABLES["reliability"]),
    }
    return {name: chart for name, chart in charts.items() if chart is not None}


def contrast(one: str, other: str) -> float:
    """Contrast of two colours. Source: W3C, Web Content Accessibility Guidelines 2.1, "relative luminance"."""

    def luminance(colour: str) -> float:
        shares = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
        red, green, blue = (s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_computed_as_published():
    # WCAG 2.1: black on white is 21:1, a colour on itself 1:1; #777777 on white is the well-known 4.48:1 that just
    # misses the limit of 4.5:1 (the last from memory).
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#336699", "#336699") == 1
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
def test_text_and_marks_stand_out_in_light_and_dark(scheme: int):
    # WCAG 2.1, 1.4.3 and 1.4.11: 4.5:1 for text; the marks' colours are used for text too.
    style = files("analysis.charts").joinpath("sheet/sheet.css").read_text(encoding="utf-8")
    colours = dict(re.findall(r"--([\w-]+): (#\w{6});", re.findall(r":root \{(.*?)\}", style, re.DOTALL)[scheme]))
    on = [(ink, "sheet") for ink in ("ink", "soft", "main", "other", "good")]
    on += [("ink", "tint"), ("soft", "tint"), ("ink", "warn-tint"), ("other", "warn-tint")]
    on += [(f"map-ink-{step}", f"map-{step}") for step in range(1, 6)]
    low = [(ink, ground) for ink, ground in on if contrast(colours[ink], colours[ground]) < 4.5]
    assert not low
