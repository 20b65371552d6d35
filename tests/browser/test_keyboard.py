"""The page without a mouse: every control is reached, in order, and seen."""

from __future__ import annotations

import pytest

from tests.support.report_page import Show, unfold, vehicles

pytestmark = pytest.mark.slow


def test_from_the_list_to_a_job_sheet_by_keyboard_alone(show: Show):
    tab = show("linked")
    tab.keyboard.press("Tab")
    tab.keyboard.press("Enter")
    focused = "document.activeElement.closest('tbody')?.dataset.vehicle"
    cars = vehicles(tab)
    assert tab.evaluate(focused) == cars[0]
    tab.keyboard.press("ArrowDown")
    assert tab.evaluate(focused) == cars[1]
    tab.keyboard.press("End")
    assert tab.evaluate(focused) == cars[-1]
    tab.keyboard.press("Home")
    tab.keyboard.press("ArrowDown")
    tab.keyboard.press("Enter")
    assert tab.evaluate("document.activeElement.getAttribute('aria-expanded')") == "true"
    assert tab.locator('#ticket-2[class="ticket"]').is_visible()
    tab.keyboard.press("Tab")
    assert tab.evaluate("document.activeElement.getAttribute('href')") == f"jobsheets/{cars[1]}.html"
    tab.reload()
    tab.wait_for_selector("html[data-drawn]")
    assert tab.locator('#ticket-2[class="ticket"]').is_visible(), "the way back leads to the open ticket"


def test_the_way_back_from_a_job_sheet_leads_to_its_link_and_a_closed_row_keeps_the_focus(show: Show):
    tab = show("linked")
    car = vehicles(tab)[9]
    focused = "[document.activeElement.closest('tbody')?.dataset.vehicle, document.activeElement.className]"
    row = tab.locator(f"tbody[data-vehicle='{car}'] tr.car")
    row.click(position={"x": 500, "y": 8})
    assert tab.evaluate(focused) == [car, "open"]
    link = tab.locator(f"tbody[data-vehicle='{car}'] a").first
    tab.evaluate("addEventListener('click', (event) => event.preventDefault(), { once: true })")
    link.click()
    tab.reload()
    tab.wait_for_selector("html[data-drawn]")
    assert tab.evaluate("document.activeElement.getAttribute('href')") == link.get_attribute("href")
    tab.keyboard.press("Escape")
    assert tab.evaluate(focused) == [car, "open"]
    assert not tab.locator(f"tbody[data-vehicle='{car}'] tr.ticket").is_visible()
    row.click(position={"x": 500, "y": 8})
    row.click(position={"x": 500, "y": 8})
    assert tab.evaluate(focused) == [car, "open"]


def test_an_opened_row_stands_below_the_headings_that_stay(show: Show):
    tab = show()
    row = tab.locator("tr.car").nth(12)
    top = "one => one.getBoundingClientRect().top"
    tab.evaluate("(down) => scrollTo(0, scrollY + down)", row.evaluate(top) - 6)
    assert row.evaluate(top) < 10, "it lies below the headings"
    row.locator(".open").dispatch_event("click")
    assert row.evaluate(top) >= tab.locator("table.cars thead th").first.bounding_box()["height"]


def test_the_keyboard_reaches_every_control_in_the_order_of_the_page(show: Show):
    tab = show()
    unfold(tab)
    tab.evaluate('document.querySelectorAll("table.cars > tbody").forEach((one, at) => { if (at > 2) one.remove(); })')
    tab.locator(".open").first.click()
    tab.evaluate("document.activeElement.blur()")
    controls = "a, button, input, select, summary, [tabindex]"
    wanted = tab.evaluate(f"""() => {{
        const all = [...document.querySelectorAll("{controls}")];
        window.controls = all.filter(one => one.checkVisibility() && !one.disabled);
        window.getSelection().removeAllRanges();
        const top = document.createElement("span");
        top.tabIndex = -1;
        document.body.prepend(top);
        top.focus();
        return window.controls.map((one, at) => at);
    }}""")
    assert len(wanted) > 60
    reached = []
    for _ in wanted:
        tab.keyboard.press("Tab")
        reached.append(tab.evaluate("window.controls.indexOf(document.activeElement)"))
    assert reached == wanted
    unnamed = tab.eval_on_selector_all(
        "button, input, select, summary, [role=region]",
        "all => all.filter(one => !one.textContent.trim() && !one.labels?.length && !one.ariaLabel).length",
    )
    assert unnamed == 0


def test_what_the_keyboard_chose_is_seen_around_it(show: Show):
    tab = show()
    tab.keyboard.press("Tab")
    assert tab.evaluate("document.activeElement.className") == "skip"
    assert tab.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    tab.keyboard.press("Enter")
    assert tab.evaluate("document.activeElement.id") == "car-1"
