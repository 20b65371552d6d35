"""The page in a real browser, from disk and with no network: drawn, linked, reachable, quiet."""

from __future__ import annotations

import csv
import io
import os
import re
import shutil
from collections.abc import Callable, Iterator
from itertools import combinations
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from pypdf import PdfReader

from analysis.charts import page
from pipelines.report.job_sheet import job_sheets
from tests.support.sample_report import empty, sample, spoiled

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright drives the browser; it is not installed")

pytestmark = pytest.mark.slow
CHROME = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome", "chrome"))), None)
NASTY = "</script><script>window.pwned=1</script><img src=x onerror=window.pwned=1>"
TABLES, RUN = sample()
FIRST = TABLES["shortlist"].filter(pl.col("rank") == 1)
VISIBLE = "table.cars > tbody:not([hidden])"
MARK = "#chart-costs .mark-symbol.role-mark path"
FAMILY = "ABS:C0031"
MAP_MARK = "#chart-map .layer_1_marks path"
FAINT = '[opacity="0.1"]'


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """One browser for all tests of this file."""
    if CHROME is None:
        pytest.skip("no Chromium or Chrome found on the path")
    root = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    arguments = [*root, "--disable-gpu", "--disable-background-networking"]
    with sync_api.sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=CHROME, args=arguments)
        yield started
        started.close()


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The pages, written to disk."""
    folder = tmp_path_factory.mktemp("report")
    linked = page(TABLES, RUN, {car: car for car in FIRST["vehicle"]})
    made = {"sample": page(TABLES, RUN), "linked": linked, "empty": page(*empty()), "nasty": page(*spoiled(NASTY)),
            "many": page(*sample(120)), "long": page(*long_words())}  # fmt: skip
    made |= {"sheet": _longest(job_sheets(TABLES, RUN)), "nasty sheet": _longest(job_sheets(*spoiled(NASTY)))}
    for name, text in made.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8", newline="\n")
    return {name: folder / f"{name}.html" for name in made}


LONG_WORDS = "Horn and wheel buttons, no contact at the clock spring"


def long_words() -> tuple[dict[str, pl.DataFrame], dict[str, Any]]:
    """The sample with a long wording on every code."""
    tables, run = sample()
    return tables | {"codes": tables["codes"].with_columns(text=pl.lit(LONG_WORDS))}, run


def _longest(sheets: dict[str, bytes]) -> str:
    """The job sheet with the most on it."""
    return max((sheet.decode() for name, sheet in sheets.items() if name.endswith(".html")), key=len)


@pytest.fixture
def show(browser: Any, files: dict[str, Path]) -> Iterator[Callable[..., Any]]:
    """Open a page offline; at the end nothing may have been said on the console and nothing fetched."""
    trouble: list[str] = []
    fetched: list[str] = []
    contexts = []

    def opened(name: str = "sample", width: int = 1400, scheme: str = "light") -> Any:
        context = browser.new_context(
            viewport={"width": width, "height": 900}, color_scheme=scheme, offline=True, reduced_motion="reduce"
        )
        context.set_default_timeout(120_000)  # a busy machine opens slowly
        contexts.append(context)
        tab = context.new_page()
        tab.on("console", lambda message: trouble.append(f"{message.type}: {message.text}"))
        tab.on("pageerror", lambda error: trouble.append(str(error)))
        tab.on("request", lambda request: fetched.append(request.url.split("#")[0]))
        tab.goto(files[name].as_uri())
        if "sheet" not in name:
            tab.wait_for_selector("html[data-drawn]", timeout=120_000)
        return tab

    yield opened
    for context in contexts:
        context.close()
    assert not trouble
    assert set(fetched) <= {path.as_uri() for path in files.values()}


def unfold(tab: Any) -> None:
    """Open every fold, and wait for what is drawn in it."""
    tab.evaluate("document.querySelectorAll('details:not(.menu)').forEach(one => { one.open = true; })")
    tab.wait_for_function(
        "[...document.querySelectorAll('.chart > div')].every(one => one.querySelector('svg'))", timeout=120_000
    )


def vehicles(tab: Any, selector: str = VISIBLE) -> list[str]:
    """The cars whose rows are seen."""
    found: list[str] = tab.eval_on_selector_all(selector, "all => all.map(one => one.dataset.vehicle)")
    return found


def test_every_chart_has_a_mark_for_every_row_of_its_table(show: Callable[..., Any]):
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


def test_foreign_text_runs_nowhere_and_stays_text(show: Callable[..., Any]):
    tab = show("nasty")
    unfold(tab)
    assert tab.evaluate("window.pwned") is None
    assert NASTY in tab.locator(VISIBLE).first.inner_text()
    tab.locator(".open").first.click()
    assert NASTY in tab.locator(".story").first.inner_text()
    assert tab.locator("img").count() == 0
    tab.locator(MAP_MARK).first.hover(force=True)
    assert "<script>window.pwned=1</script>" in tab.locator("#vg-tooltip-element").inner_text()
    tab.locator("#chart-clusters .mark-symbol path").first.click(force=True)
    tab.locator("#family").select_option(index=1)
    assert tab.evaluate("window.pwned") is None
    assert tab.locator("img").count() == 0


def test_the_policy_stops_a_script_that_came_in_all_the_same(browser: Any, files: dict[str, Path]):
    tab = browser.new_page()
    tab.goto(files["sample"].as_uri())
    tab.evaluate("""() => {
        const added = document.createElement("script");
        added.textContent = "window.pwned = 1";
        document.body.append(added);
    }""")
    assert tab.evaluate("window.pwned") is None
    tab.close()


def test_twenty_five_cars_stand_on_one_laptop_screen_and_a_car_takes_three_lines_on_a_phone(show: Callable[..., Any]):
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


def test_from_the_list_to_a_job_sheet_by_keyboard_alone(show: Callable[..., Any]):
    tab = show("linked")
    tab.keyboard.press("Tab")
    tab.keyboard.press("Enter")
    focused = "document.activeElement.closest('tbody')?.dataset.vehicle"
    for _ in range(25):
        tab.keyboard.press("Tab")
        if tab.evaluate("document.activeElement.className") == "open":
            break
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


def test_a_heading_sorts_both_ways_and_then_lets_go(show: Callable[..., Any]):
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
    assert tab.locator("[aria-sort]").count() == 0


def totals(tab: Any) -> list[str]:
    """The totals as they are shown."""
    found: list[str] = tab.eval_on_selector_all(".totals dd", "all => all.map(one => one.textContent)")
    return found


def test_totals_follow_what_is_shown(show: Callable[..., Any]):
    tab = show()
    everything = totals(tab)
    make = FIRST.sort("vehicle")["make"][0]
    tab.locator("#make").select_option(make)
    mine = FIRST.filter(make=make)
    fixes = mine.filter(pl.col("action").is_in(["replace", "repair"]))
    tried = mine.filter(pl.col("action") != "specialist")
    minutes = round(mine["labour_cost"].sum() / 45 * 60)
    saving = sum(max(0.0, 300 - cost) for cost in tried["expected_cost"])
    assert set(vehicles(tab)) == set(mine["vehicle"])
    told = totals(tab)
    assert told[0] == f"{mine.height} of {FIRST.height}"
    numbers = [float(re.sub(r"[^\d.]", "", text)) for text in (told[1], told[2], told[4])]
    # The page rounds the sum to whole units.
    assert numbers == pytest.approx([fixes["part_cost"].sum(), mine["labour_cost"].sum(), saving], abs=0.51)
    assert told[3] == f"{minutes // 60}\N{NO-BREAK SPACE}h {minutes % 60:02d}\N{NO-BREAK SPACE}min"
    tab.locator("#all").click()
    assert totals(tab) == everything


def test_what_can_be_done_today_is_taken_from_the_top_while_hours_and_money_last(show: Callable[..., Any]):
    tab = show()
    order = vehicles(tab)
    rows = {row["vehicle"]: row for row in FIRST.to_dicts()}
    tab.locator("#hours").fill("2")
    left, wanted = 120.0, []
    for car in order:
        labour = rows[car]["labour_cost"]
        if labour is not None and round(labour / 45 * 60) <= left:
            left -= round(labour / 45 * 60)
            wanted.append(car)
    assert 0 < len(wanted) < len(order)
    assert vehicles(tab) == wanted
    tab.locator("#hours").fill("")
    tab.locator("#skill").check()
    assert vehicles(tab) == [car for car in order if not rows[car]["caution"]]
    tab.locator("#all").click()
    tab.locator("#money").fill("50")
    spent = sum(rows[car]["part_cost"] or 0 for car in vehicles(tab))
    assert 0 < spent <= 50


def test_one_choice_is_followed_by_list_chart_and_tables(show: Callable[..., Any]):
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


def test_a_click_in_the_chart_chooses_part_code_and_family_and_a_second_lets_go(show: Callable[..., Any]):
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


def test_a_click_on_a_mark_of_cost_and_chance_leaves_its_cars_and_a_second_brings_all_back(show: Callable[..., Any]):
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


def test_filters_survive_a_reload_and_words_are_found_in_closed_tickets(show: Callable[..., Any]):
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


def test_a_family_chosen_on_the_map_is_followed_by_cars_charts_and_tables(show: Callable[..., Any]):
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
    listed = tab.eval_on_selector_all("tr[data-codes]:not([hidden])", "all => all.map(one => one.dataset.codes)")
    assert {code for pair in listed for code in pair.split(";")} == set(codes)
    tab.locator(MAP_MARK).nth(place).click(force=True)
    assert tab.locator("#family").input_value() == ""
    assert len(vehicles(tab)) == FIRST.height


def test_with_no_car_left_every_chart_is_faint(show: Callable[..., Any]):
    tab = show()
    unfold(tab)
    tab.locator("#find").fill("zzz not there")
    tab.wait_for_timeout(300)
    assert tab.locator(f"{MAP_MARK}:not({FAINT})").count() == 0
    assert tab.locator("[data-family]:is(tr, article):not([hidden])").count() == 0


def test_what_is_chosen_is_saved_as_table_and_picture(show: Callable[..., Any]):
    tab = show()
    tab.locator("#part").select_option("battery")
    tab.wait_for_timeout(300)
    tab.locator(".choose .menu summary").click()
    saved = {}
    for button, name in (("save-table", "clusters.csv"), ("save-svg", "clusters.svg"), ("save-png", "clusters.png")):
        with tab.expect_download() as download:
            tab.locator(f"#{button}").click()
        assert download.value.suggested_filename == name
        saved[name] = Path(download.value.path()).read_bytes()
    rows = list(csv.reader(io.StringIO(saved["clusters.csv"].decode("utf-8-sig"), newline="")))
    wanted = TABLES["part_results"].filter(part="battery").row(0, named=True)
    assert [row[:4] for row in rows[1:]] == [["battery", wanted["family"], str(wanted["cleared"]), str(wanted["jobs"])]]
    picture = saved["clusters.svg"].decode()
    assert "var(--" not in picture
    assert ">battery</text>" in picture
    assert saved["clusters.png"].startswith(b"\x89PNG")
    with tab.expect_download() as download:
        tab.locator(".filters .menu summary").click()
        tab.locator("#save-list").click()
    lines = list(csv.reader(io.StringIO(Path(download.value.path()).read_text(encoding="utf-8-sig"), newline="")))
    assert len(lines) - 1 == len(vehicles(tab))


def test_a_page_to_print_holds_the_week_or_what_is_chosen(show: Callable[..., Any]):
    tab = show()
    tab.evaluate("window.print = () => { window.printed = document.documentElement.dataset.only; }")
    for menu, wanted in ((".filters", "paper"), (".choose", "clusters")):
        tab.locator(f"{menu} .menu summary").click()
        tab.locator(f'{menu} [data-print="{wanted}"]').click()
        assert tab.evaluate("window.printed") == wanted
        assert tab.evaluate("document.documentElement.dataset.only") is None
    tab.emulate_media(media="print")
    assert tab.locator("#paper").is_visible()
    assert not tab.locator("#list").is_visible()
    tab.evaluate("document.documentElement.dataset.only = 'clusters'")
    assert not tab.locator("#paper").is_visible()
    assert tab.locator("#chart-clusters").is_visible()


def test_the_report_prints_on_few_pages_and_the_week_on_one(show: Callable[..., Any]):
    tab = show()
    pages = PdfReader(io.BytesIO(tab.pdf(prefer_css_page_size=True))).pages
    assert len(pages) <= 8
    assert "Week 2026-W48 on one sheet" in pages[0].extract_text()
    assert "Money at stake" in pages[0].extract_text()


def test_the_keyboard_reaches_every_control_in_the_order_of_the_page(show: Callable[..., Any]):
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


def test_what_the_keyboard_chose_is_seen_around_it(show: Callable[..., Any]):
    tab = show()
    tab.keyboard.press("Tab")
    assert tab.evaluate("document.activeElement.className") == "skip"
    assert tab.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    tab.keyboard.press("Enter")
    assert tab.evaluate("location.hash") == "#list"


def test_a_long_list_is_shown_forty_cars_at_a_time_and_searched_whole(show: Callable[..., Any]):
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


def test_a_job_sheet_runs_nothing_and_shows_foreign_text_as_text(show: Callable[..., Any]):
    tab = show("nasty sheet")
    assert tab.evaluate("window.pwned") is None
    assert tab.locator("img, script").count() == 0
    assert NASTY in tab.locator("h1").inner_text()


@pytest.mark.parametrize("width", [390, 820, 1400])
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["sample", "empty", "sheet"])
def test_the_accessibility_checker_finds_nothing_serious(show: Callable[..., Any], name: str, width: int, scheme: str):
    axe = pytest.importorskip("axe_playwright_python", reason="axe-playwright-python brings the accessibility checker")
    tab = show(name, width=width, scheme=scheme)
    if "sheet" not in name:
        unfold(tab)
        tab.evaluate("document.querySelectorAll('.open').forEach((one, at) => { if (at < 4) one.click(); })")
    # The page's own policy stops scripts that are added to it; the checker goes in through the debugger instead.
    tab.evaluate((Path(axe.__file__).parent / "axe.min.js").read_text(encoding="utf-8"))
    found = tab.evaluate("axe.run(document, { resultTypes: ['violations'] })")
    assert len(found["passes"]) > 10
    told = [(one["id"], one["impact"], one["nodes"][0]["html"][:200]) for one in found["violations"]]
    assert not told


@pytest.mark.parametrize("width", [390, 820, 1400])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_job_sheet_fits_any_width(show: Callable[..., Any], width: int, scheme: str):
    assert show("sheet", width=width, scheme=scheme).evaluate("document.documentElement.scrollWidth") == width


@pytest.mark.parametrize("width", [390, 820, 1400])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_sticks_out_at_any_width(show: Callable[..., Any], width: int, scheme: str):
    assert show("many", width=width, scheme=scheme).evaluate("document.documentElement.scrollWidth") == width
    tab = show(width=width, scheme=scheme)
    assert tab.evaluate("document.documentElement.scrollWidth") == width
    unfold(tab)
    for name in ("clusters", "costs", "trend", "trust", "ledger"):
        box = tab.locator(f"#chart-{name} svg").bounding_box()
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= width


@pytest.mark.parametrize("width", [390, 820, 1400])
def test_long_names_of_families_are_never_cut_in_the_trend(show: Callable[..., Any], width: int):
    tab = show("long", width=width)
    unfold(tab)
    seen = tab.eval_on_selector_all("#chart-trend .role-axis-label text", "all => all.map(one => one.innerHTML)")
    named = [text for text in seen if "Horn" in text]
    assert len(named) >= 4
    assert not [text for text in seen if "…" in text]
    lines = {len(re.findall("<tspan", text)) or 1 for text in named}
    assert lines == ({2} if width == 390 else {1})
    assert all(LONG_WORDS in " ".join(re.sub("<[^>]*>", " ", text).split()) for text in named)
    right = "all => Math.max(...all.map(one => one.getBoundingClientRect().right))"
    assert tab.eval_on_selector_all("#chart-trend .role-axis-label text", right) <= width


@pytest.mark.parametrize("width", [390, 820, 1400])
@pytest.mark.parametrize("name", ["sample", "long"])
def test_no_name_beside_a_family_meets_another(show: Callable[..., Any], name: str, width: int):
    tab = show(name, width=width)
    edges = """all => all.filter(one => one.textContent).map(one => {
        const box = one.getBoundingClientRect();
        return [box.left, box.right, box.top, box.bottom, one.textContent];
    })"""
    texts = tab.eval_on_selector_all("#chart-clusters .role-mark text", edges)
    assert len(texts) > 60
    assert [(one[4], other[4]) for one, other in combinations(texts, 2) if _meet(one, other)] == []
    assert all(left >= 0 and right <= width for left, right, *_ in texts)


@pytest.mark.parametrize("width", [390, 820, 1400])
@pytest.mark.parametrize("name", ["sample", "long"])
def test_no_name_in_a_chart_meets_another_or_the_axis_above(show: Callable[..., Any], name: str, width: int):
    tab = show(name, width=width)
    edges = """all => all.map(one => {
        const box = one.getBoundingClientRect();
        return [box.left, box.right, box.top, box.bottom, one.textContent];
    })"""
    unfold(tab)
    labels = tab.eval_on_selector_all("#chart-trend .role-axis-label text", edges)
    rules = tab.eval_on_selector_all("#chart-trend .role-axis-domain line", edges)
    rule = max(bottom for left, right, _, bottom, _ in rules if right - left > 100)
    names = [label for label in labels if not re.fullmatch(r"[\d%-]+", label[4])]
    assert len(names) >= 7
    assert len(labels) > len(names), "dates stand above the rule"
    assert [label[4] for label in names if label[2] <= rule] == []
    assert [(one[4], other[4]) for one, other in combinations(labels, 2) if _meet(one, other)] == []


def _meet(one: list[float], other: list[float]) -> bool:
    """Whether two boxes of left, right, top and bottom share a place; a pixel may be the font's own margin."""
    return all(one[k] < other[k + 1] - 1 and other[k] < one[k + 1] - 1 for k in (0, 2))


def test_dark_and_light_differ_in_page_and_chart(show: Callable[..., Any]):
    looks = []
    for scheme in ("light", "dark"):
        tab = show(scheme=scheme)
        unfold(tab)
        looks.append(
            tab.evaluate(f"""() => [
                getComputedStyle(document.querySelector(".paper")).backgroundColor,
                getComputedStyle(document.querySelector("{MARK}")).stroke,
                getComputedStyle(document.querySelector("#chart-map .layer_1_marks path")).fill,
            ]""")
        )
    assert all(light != dark for light, dark in zip(*looks, strict=True))
    assert all(colour.startswith("rgb") for look in looks for colour in look)


def test_a_young_dealers_page_opens_quietly(show: Callable[..., Any]):
    tab = show("empty", width=390)
    assert tab.locator(".vega-embed").count() == 0
    assert tab.get_by_text("There is nothing to try this week.").is_visible()
