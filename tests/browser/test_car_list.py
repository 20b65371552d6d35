"""The list of cars: sorted, searched, filtered, added up, and cut down to what can be done today."""

from __future__ import annotations

import re

import polars as pl
import pytest

from tests.support.report_page import FIRST, TABLES, VISIBLE, Show, totals, vehicles
from tests.support.sample_report import own_minutes

pytestmark = pytest.mark.slow


def test_twenty_five_cars_stand_on_one_laptop_screen_and_a_car_takes_three_lines_on_a_phone(show: Show):
    tab = show()
    rows = tab.locator("tr.car")
    assert rows.count() == FIRST.height == 25
    last = rows.nth(24).bounding_box()
    assert last["y"] + last["height"] <= 900
    phone = show(width=390)
    lines = "one => new Set([...one.cells].filter(cell => cell.checkVisibility() && cell.textContent.trim())"
    lines += ".map(cell => cell.getBoundingClientRect()).map(box => Math.round((box.top + box.bottom) / 28))).size"
    heights = [phone.locator("tr.car").nth(place).evaluate(lines) for place in range(3)]
    assert max(heights) <= 3
    first = phone.locator("tr.car").first.bounding_box()
    assert first["y"] + first["height"] < 800, "the first car stands on the first screen"


def test_a_heading_sorts_both_ways_and_then_lets_go(show: Show):
    tab = show()
    before = vehicles(tab)
    costs = FIRST.sort("total_cost", nulls_last=True)["total_cost"].to_list()
    shown = "all => all.map(one => one.dataset.cost === '' ? null : +one.dataset.cost)"
    head = tab.locator('th.cost [data-sort="cost"]')
    head.focus()
    tab.keyboard.press("Enter")
    assert tab.eval_on_selector_all(VISIBLE, shown) == costs
    assert tab.locator("th.cost").first.get_attribute("aria-sort") == "ascending"
    head.click()
    assert tab.eval_on_selector_all(VISIBLE, shown) == sorted(costs, reverse=True)
    tab.reload()
    tab.wait_for_selector("html[data-drawn]")
    assert tab.eval_on_selector_all(VISIBLE, shown) == sorted(costs, reverse=True), "the address remembers"
    tab.locator('th.cost [data-sort="cost"]').click()
    assert vehicles(tab) == before
    tab.locator('th.chance [data-sort="chance"]').click()
    chances = tab.eval_on_selector_all(
        f"{VISIBLE} td.chance", "all => all.map(one => one.dataset.n).filter(Boolean).map(Number)"
    )
    assert len(chances) > 10
    assert chances == sorted(chances, reverse=True), "the best chance first"
    tab.locator("#hours").fill("1")
    cars = vehicles(tab)
    tab.locator('th.chance [data-sort="chance"]').click()
    tab.locator('th.chance [data-sort="chance"]').click()
    assert set(vehicles(tab)) == set(cars), "what is done today is taken in the recommended order"
    tab.locator("#hours").fill("")
    assert tab.locator("[aria-sort]").count() == 0


def test_totals_follow_what_is_shown(show: Show):
    tab = show()
    everything = totals(tab)
    make = FIRST.sort("vehicle")["make"][0]
    tab.locator("#make").select_option(make)
    mine = FIRST.filter(make=make)
    checked = pl.col("check_first").fill_null("").str.starts_with("Checking first is cheaper")
    minutes = sum(own_minutes(row) or 0 for row in mine.to_dicts())
    assert set(vehicles(tab)) == set(mine["vehicle"])
    told = totals(tab)
    assert told[0] == f"{mine.height} of {FIRST.height}"
    now, maybe, labour, first, to_end, handing, saved = (float(re.sub(r"[^\d.]", "", text)) for text in told[3:])
    # The page rounds the sum to whole units.
    parts = [mine.filter(kind)["part_cost"].sum() for kind in (~checked, checked)]
    sums = [*parts, mine["labour_cost"].sum(), mine["total_cost"].sum(), mine["expected_cost"].sum(), 300 * mine.height]
    assert [now, maybe, labour, first, to_end, handing] == pytest.approx(sums, abs=0.51)
    assert saved == handing - to_end
    assert told[2] == f"{mine.filter(~pl.col('action').is_in(['specialist', 'leave'])).height}"
    assert told[1] == f"{minutes // 60}\N{NO-BREAK SPACE}h {minutes % 60:02d}\N{NO-BREAK SPACE}min"
    tab.locator("#all").click()
    assert totals(tab) == everything


def test_what_can_be_done_today_is_taken_from_the_top_while_hours_and_money_last(show: Show):
    tab = show()
    order = vehicles(tab)
    rows = {row["vehicle"]: row for row in FIRST.to_dicts()}
    tab.locator("#hours").fill("2")
    left, wanted = 120.0, []
    for car in order:
        minutes = own_minutes(rows[car])
        if minutes is not None and minutes <= left:
            left -= minutes
            wanted.append(car)
    assert 0 < len(wanted) < len(order)
    assert vehicles(tab) == wanted
    tab.locator("#hours").fill("")
    tab.locator("#skill").check()
    assert vehicles(tab) == [car for car in order if not rows[car]["caution"]]
    tab.locator("#all").click()
    tab.locator("#money").fill("50")
    spent = sum(rows[car]["total_cost"] for car in vehicles(tab))
    assert 0 < spent <= 50


def test_filters_survive_a_reload_and_words_are_found_in_closed_tickets(show: Show):
    tab = show()
    make = FIRST.sort("vehicle")["make"][0]
    tab.locator("#make").select_option(make)
    wanted = set(FIRST.filter(make=make)["vehicle"])
    tab.reload()
    tab.wait_for_selector("html[data-drawn]")
    assert set(vehicles(tab)) == wanted
    assert tab.locator("#make").input_value() == make
    tab.locator("#all").click()
    tab.locator("#find").fill("zzz not there")
    assert vehicles(tab) == []
    assert tab.locator("#nobody").is_visible()
    tab.locator("#find").fill("Abs Module")
    assert set(vehicles(tab)) == set(TABLES["shortlist"].filter(part="ABS module")["vehicle"])


def test_a_long_list_is_shown_forty_cars_at_a_time_and_searched_whole(show: Show):
    tab = show("many")
    assert len(vehicles(tab)) == 40
    assert totals(tab)[0] == "120 of 120"
    more = tab.locator("#rest")
    assert more.evaluate("one => one.tabIndex") == 0
    assert more.inner_text() == "Show 40 more of 80"
    more.focus()
    tab.keyboard.press("Enter")
    assert len(vehicles(tab)) == 80
    forty_first = vehicles(tab)[40]
    focused = "document.activeElement.closest('tbody')?.dataset.vehicle"
    assert tab.evaluate(focused) == forty_first, "the first of the new ones has the keyboard"
    assert more.inner_text() == "Show 40 more of 40"
    more.click()
    assert len(vehicles(tab)) == 120
    assert not more.is_visible()
    last = vehicles(tab)[-1]
    tab.locator("#find").fill(last)
    assert vehicles(tab) == [last]
    tab.locator("#find").fill("")
    assert len(vehicles(tab)) == 40


def test_a_long_list_can_be_cut_down_to_what_is_done_next(show: Show):
    assert show().locator("#next").count() == 0, "a short list shows all its headings at once"
    tab = show("many")
    options = tab.locator("#next option")
    told = {one.get_attribute("value"): one.inner_text() for one in options.all()}
    kinds = tab.eval_on_selector_all("table.cars > tbody[data-vehicle]", "all => all.map(one => one.dataset.heap)")
    assert [f"({kinds.count(kind)})" in words for kind, words in told.items() if kind] == [True] * (len(told) - 1)
    last = max(kind for kind in told if kind)
    tab.locator("#next").select_option(last)
    tab.wait_for_timeout(300)
    seen = tab.eval_on_selector_all(VISIBLE, "all => all.map(one => one.dataset.heap)")
    assert len(seen) == min(40, kinds.count(last))
    assert set(seen) == {last}
    assert totals(tab)[0] == f"{kinds.count(last)} of 120"
    head = tab.locator("table.cars > tbody.group:not([hidden]) i")
    assert head.all_inner_texts() == [f"{kinds.count(last)} cars"]


def test_a_young_dealers_page_opens_quietly(show: Show):
    tab = show("empty", width=390)
    assert tab.locator(".vega-embed").count() == 0
    assert tab.get_by_text("There is nothing to try this week.").is_visible()


def test_the_way_back_from_a_job_sheet_leads_to_its_open_car(show: Show):
    tab = show()
    car = vehicles(tab)[20]
    tab.goto("about:blank")
    tab.goto(f"{show().url.partition('#')[0]}#open={car}")
    tab.wait_for_selector("html[data-listed]")
    assert tab.evaluate("document.activeElement.textContent.trim()") == car
    assert tab.evaluate("document.activeElement.getAttribute('aria-expanded')") == "true"
    assert 0 <= tab.evaluate("document.activeElement.getBoundingClientRect().top") < 900


def test_what_is_done_next_heads_the_cars_in_the_lists_own_order_alone(show: Show):
    tab = show()
    seen = "table.cars > tbody.group:not([hidden]) b"
    heads = tab.locator(seen).all_inner_texts()
    assert heads == ["Cheap try first", "Dearer try", "Drive and scan again", "Hand over"]
    tab.locator("#find").fill("K-1004")
    assert tab.locator(seen).all_inner_texts() == ["Hand over"], "a heading without a car is not seen"
    tab.locator("#find").fill("")
    tab.locator('th.cost [data-sort="cost"]').click()
    assert tab.locator(seen).count() == 0
    for _ in range(2):
        tab.locator('th.cost [data-sort="cost"]').click()
    assert tab.locator(seen).all_inner_texts() == heads
    kinds = "all => all.map(one => one.dataset.group ?? one.dataset.heap)"
    order = tab.eval_on_selector_all("table.cars > tbody:not([hidden])", kinds)
    assert order == sorted(order), "each heading stands above its cars"
