"""A part, code, family or car that is chosen, in a chart or by name, is followed by list, charts and tables."""

from __future__ import annotations

import polars as pl
import pytest

from tests.support.report_page import FAINT, FIRST, MAP_MARK, MARK, TABLES, VISIBLE, Show, unfold, vehicles

pytestmark = pytest.mark.slow
FAMILY = "ABS:C0031"


def test_every_chart_has_a_mark_for_every_row_of_its_table(show: Show):
    tab = show()
    assert tab.locator(".vega-embed").count() == 2, "only what is in sight is drawn at once: clusters and ledger"
    unfold(tab)
    families = {code for codes in TABLES["families"]["codes"] for code in codes.split(";")}
    inside = TABLES["rules"].filter(pl.col("antecedent").is_in(families) & pl.col("consequent").is_in(families))
    assert tab.locator(MAP_MARK).count() == 2 * inside.height
    parts = tab.locator("#part-table tbody tr").count()
    assert parts == TABLES["part_results"].height
    drawn = "all => all.filter(one => one.__data__.datum.choose === 'part').length"
    assert tab.eval_on_selector_all("#chart-clusters .mark-rule.role-mark line", drawn) == 2 * parts
    points = FIRST.filter(pl.col("action") != "specialist").unique(["total_cost", "chance", "action"])
    assert tab.locator(MARK).count() == points.height
    assert tab.locator('.vega-embed[role="graphics-document"][aria-label]').count() == 6
    for name in ("clusters", "map", "costs", "trend", "trust", "ledger"):
        box = tab.locator(f"#chart-{name} svg").bounding_box()
        assert box["width"] > 200
        assert box["height"] > 60


def test_one_choice_is_followed_by_list_chart_and_tables(show: Show):
    tab = show()
    unfold(tab)
    lists = {
        kind: TABLES[table].filter(pl.col(column) == name)["vehicle"].unique().to_list()
        for kind, name, table, column in (
            ("part", "battery", "shortlist", "part"), ("code", "ECM:P0562", "open_codes", "code"),
        )
    }  # fmt: skip
    for kind, name in (("part", "battery"), ("code", "ECM:P0562")):
        tab.locator(f"#{kind}").select_option(name)
        tab.wait_for_timeout(300)
        assert set(vehicles(tab)) == set(lists[kind])
        assert name in tab.locator("#chosen").inner_text()
        assert f"{kind} {name}" in tab.locator("#followed").inner_text()
        assert vehicles(tab, "article.family:not([hidden])") is not None
        kept = tab.eval_on_selector_all("article.family:not([hidden])", "all => all.map(one => one.dataset.family)")
        assert kept == ["ECM:P0562"]
        assert tab.locator(f"#chart-clusters {FAINT}").count() > 0
        assert tab.locator(f"#chart-map {FAINT}").count() > 0
        tab.locator("#none").click()
        tab.wait_for_timeout(300)
        assert len(vehicles(tab)) == FIRST.height
        assert tab.locator(f"#chart-clusters {FAINT}").count() == 0
    car = vehicles(tab)[3]
    tab.locator("#car").select_option(car)
    assert vehicles(tab) == [car]


def test_a_click_in_the_chart_chooses_part_code_and_family_and_a_second_lets_go(show: Show):
    tab = show()
    for kind, mark in (("part", "text"), ("code", "text"), ("family", "path")):
        find = f"all => all.findIndex(one => one.__data__.datum.choose === '{kind}' && one.textContent !== '○')"
        marks = tab.locator(f"#chart-clusters .role-mark {mark}")
        place = marks.evaluate_all(find)
        name = marks.nth(place).evaluate("one => one.__data__.datum.name")
        for wanted in (name, ""):
            where = {"position": {"x": 20, "y": 10}} if kind == "family" else {}
            tab.locator(f"#chart-clusters .role-mark {mark}").nth(place).click(force=True, **where)
            tab.wait_for_timeout(300)
            assert tab.locator(f"#{kind}").input_value() == wanted


def test_a_click_on_a_mark_of_cost_and_chance_leaves_its_cars_and_a_second_brings_all_back(show: Show):
    tab = show()
    unfold(tab)
    everyone = vehicles(tab)
    assert sorted(everyone) == sorted(FIRST["vehicle"])
    tab.locator(MARK).first.click(force=True)
    tab.wait_for_timeout(300)
    chosen = vehicles(tab)
    assert 0 < len(chosen) < len(everyone)
    assert len({tab.locator(f'{VISIBLE}[data-vehicle="{car}"]').get_attribute("data-point") for car in chosen}) == 1
    assert tab.locator(f'{MARK}[opacity="0.12"]').count() == tab.locator(MARK).count() - 1
    tab.locator(MARK).first.click(force=True)
    assert vehicles(tab) == everyone


def test_a_family_chosen_on_the_map_is_followed_by_cars_charts_and_tables(show: Show):
    tab = show()
    unfold(tab)
    place = tab.locator(MAP_MARK).evaluate_all("all => all.findIndex(one => one.__data__.datum.family === 'ABS:C0031')")
    tab.locator(MAP_MARK).nth(place).click(force=True)
    tab.wait_for_timeout(300)
    assert tab.locator("#family").input_value() == FAMILY
    on_it = TABLES["open_codes"].filter(pl.col("family") == FAMILY)["vehicle"].unique()
    assert set(vehicles(tab)) == set(on_it)
    full = tab.locator(f"{MAP_MARK}:not({FAINT})").count()
    codes = TABLES["families"].filter(pl.col("family") == FAMILY)["codes"][0].split(";")
    assert full == len(codes) * (len(codes) - 1)
    for chart in ("clusters", "trend"):
        assert tab.locator(f"#chart-{chart} {FAINT}").count() > 0
    seen = "all => [...new Set(all.map(one => one.dataset.family))]"
    assert tab.eval_on_selector_all("[data-family]:is(tr, article):not([hidden])", seen) == [FAMILY]
    pairs = "all => all.map(one => [...one.cells].slice(0, 2).map(cell => cell.textContent))"
    listed = tab.eval_on_selector_all("#pair-table tbody tr:not([hidden])", pairs)
    assert {code for pair in listed for code in pair} == set(codes)
    tab.locator(MAP_MARK).nth(place).click(force=True)
    assert tab.locator("#family").input_value() == ""
    assert len(vehicles(tab)) == FIRST.height


def test_with_no_car_left_every_chart_is_faint(show: Show):
    tab = show()
    unfold(tab)
    tab.locator("#find").fill("zzz not there")
    tab.wait_for_timeout(300)
    assert tab.locator(f"{MAP_MARK}:not({FAINT})").count() == 0
    assert tab.locator("[data-family]:is(tr, article):not([hidden])").count() == 0
