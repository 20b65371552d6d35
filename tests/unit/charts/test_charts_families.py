"""The families' charts: the map pair by pair, and the weeks in which they came, as the tables hold them."""

from __future__ import annotations

import re
from datetime import date

import polars as pl

from analysis.charts.family_map import MOST_CODES, family_map, pairs, places, shown_families
from analysis.charts.trend_chart import MOST_FAMILIES, shown_weeks, trend_chart
from tests.support.sample_charts import TABLES, TEXTS, all_charts, drawn_rows, mark_layers, svg
from tests.support.sample_report import prepared

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


def test_families_stand_side_by_side_the_most_common_first_and_roots_lead():
    assert places(shown_families(FAMILIES)).rows() == [
        ("B:2", "large", "root"),
        ("A:1", "large", "knock-on"),
        ("C:3", "large", None),
        ("X:1", "small", None),
        ("X:9", "small", None),
    ]


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


def test_the_weeks_are_those_of_the_table_and_the_most_common_families_stand_on_top():
    spec = all_charts()["trend"]
    (rows,) = spec["datasets"].values()
    wanted = TABLES["family_weeks"].with_columns(pl.col("week").cast(pl.Datetime).dt.strftime("%Y-%m-%dT%H:%M:%S"))
    assert sorted((row["family"], row["week"], row["vehicles"]) for row in rows) == wanted.rows()
    order = TABLES["families"].sort("vehicles", "family", descending=[True, False])["family"].to_list()
    assert spec["encoding"]["y"]["scale"]["domain"] == order
    drawn = svg(spec)
    assert all(f">{family} {text}</text>" in drawn for family, text in TEXTS.items() if family in order)


def test_the_trend_holds_twenty_families_at_most_and_none_where_there_is_no_week():
    names = [f"f{number:02d}" for number in range(MOST_FAMILIES + 5)]
    families = prepared("families", [{"family": name, "codes": "A:1", "vehicles": 1} for name in reversed(names)])
    weeks = prepared("family_weeks", [{"family": n, "week": date(2026, 11, 23), "vehicles": 1} for n in names])
    assert shown_weeks(weeks, families)["family"].to_list() == names[:20]
    assert trend_chart(weeks.clear(), families, {}) is None
