"""The page in a real browser, from disk and with no network: drawn, linked, reachable, quiet."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable, Iterator
from itertools import combinations
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from analysis.charts import page
from pipelines.report.job_sheet import job_sheets
from tests.support.sample_report import empty, sample, spoiled

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright drives the browser; it is not installed")

pytestmark = pytest.mark.slow
CHROME = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome", "chrome"))), None)
NASTY = "</script><script>window.pwned=1</script><img src=x onerror=window.pwned=1>"
TABLES, RUN = sample()
FIRST = TABLES["shortlist"].filter(pl.col("rank") == 1)
VISIBLE = ".ticket:not([hidden])"
MARK = "#chart-costs .mark-symbol.role-mark path"


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
    made = {"sample": page(TABLES, RUN), "empty": page(*empty()), "nasty": page(*spoiled(NASTY)),
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
        context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme, offline=True)
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


def vehicles(tab: Any, selector: str = VISIBLE) -> list[str]:
    """The cars whose tickets are seen."""
    found: list[str] = tab.eval_on_selector_all(selector, "all => all.map(one => one.dataset.vehicle)")
    return found


def test_every_chart_has_a_mark_for_every_row_of_its_table(show: Callable[..., Any]):
    tab = show()
    families = {code for codes in TABLES["families"]["codes"] for code in codes.split(";")}
    inside = TABLES["rules"].filter(pl.col("antecedent").is_in(families) & pl.col("consequent").is_in(families))
    assert tab.locator("#chart-map .layer_1_marks path").count() == 2 * inside.height
    assert tab.locator("#chart-parts .mark-rect.role-mark path").count() == TABLES["part_results"].height
    drawn = FIRST.filter(pl.col("action") != "specialist").unique(["total_cost", "chance", "action"])
    assert tab.locator(MARK).count() == drawn.height
    assert tab.locator('.vega-embed[role="graphics-document"][aria-label]').count() == 5
    boxes = [tab.locator(f"#chart-{name} svg").bounding_box() for name in ("map", "parts", "costs", "trend", "trust")]
    assert all(box["width"] > 200 and box["height"] > 200 for box in boxes)


def test_foreign_text_runs_nowhere_and_stays_text(show: Callable[..., Any]):
    tab = show("nasty")
    assert tab.evaluate("window.pwned") is None
    assert NASTY in tab.locator(".ticket").first.inner_text()
    assert tab.locator("img").count() == 0
    tab.locator("#chart-map .layer_1_marks path").first.hover(force=True)
    assert "<script>window.pwned=1</script>" in tab.locator("#vg-tooltip-element").inner_text()
    tab.locator(MARK).first.click(force=True)
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


def test_a_click_on_a_mark_leaves_its_cars_and_a_second_click_brings_all_back(show: Callable[..., Any]):
    tab = show()
    everyone = vehicles(tab)
    assert sorted(everyone) == sorted(FIRST["vehicle"])
    tab.locator(MARK).first.click(force=True)
    chosen = vehicles(tab)
    assert 0 < len(chosen) < len(everyone)
    assert len({tab.locator(f'.ticket[data-vehicle="{car}"]').get_attribute("data-point") for car in chosen}) == 1
    assert vehicles(tab, ".ticket.picked") == chosen
    assert tab.locator("#shown").inner_text() == f"{len(chosen)} of {len(everyone)} cars"
    assert tab.locator("tr[data-vehicle]:not([hidden])").count() == len(chosen)
    tab.locator(MARK).first.click(force=True)
    assert vehicles(tab) == everyone


def test_a_car_chosen_by_keyboard_fades_the_other_marks(show: Callable[..., Any]):
    tab = show()
    button = tab.locator(".ticket .pick").first
    car = button.get_attribute("data-vehicle")
    button.focus()
    tab.keyboard.press("Enter")
    tab.wait_for_timeout(200)
    assert vehicles(tab) == [car]
    assert button.get_attribute("aria-pressed") == "true"
    marks = tab.locator(MARK).count()
    assert tab.locator(f'{MARK}[opacity="0.12"]').count() == marks - 1
    tab.locator("#all").click()
    tab.wait_for_timeout(200)
    assert tab.locator(f'{MARK}[opacity="0.12"]').count() == 0
    assert len(vehicles(tab)) == FIRST.height


def test_filters_follow_the_tables_and_survive_a_reload(show: Callable[..., Any]):
    tab = show()
    make = FIRST.sort("vehicle")["make"][0]
    tab.locator("#make").select_option(make)
    assert set(vehicles(tab)) == set(FIRST.filter(pl.col("make") == make)["vehicle"])
    tab.locator("#cheap").check()
    wanted = set(FIRST.filter((pl.col("make") == make) & pl.col("cheap"))["vehicle"])
    assert set(vehicles(tab)) == wanted
    tab.reload()
    tab.wait_for_selector("html[data-drawn]")
    assert set(vehicles(tab)) == wanted
    assert tab.locator("#make").input_value() == make
    tab.locator("#all").click()
    tab.locator("#find").fill("zzz not there")
    assert vehicles(tab) == []
    assert tab.locator("#nobody").is_visible()


def test_a_family_shows_its_cars(show: Callable[..., Any]):
    tab = show()
    button = tab.locator(".show-family").first
    family = button.get_attribute("data-family")
    button.click()
    on_it = TABLES["open_codes"].filter(pl.col("family") == family)["vehicle"].unique()
    assert set(vehicles(tab)) == set(on_it)
    assert tab.locator("#family").input_value() == family


FAMILY = "ABS:C0031"
MAP_MARK = "#chart-map .layer_1_marks path"
FAINT = '[opacity="0.1"]'


def test_a_family_chosen_on_the_map_is_followed_by_cars_charts_and_tables(show: Callable[..., Any]):
    tab = show()
    assert tab.locator(f"#chart-parts {FAINT}").count() == 0
    place = tab.locator(MAP_MARK).evaluate_all("all => all.findIndex(one => one.__data__.datum.family === 'ABS:C0031')")
    tab.locator(MAP_MARK).nth(place).click(force=True)
    tab.wait_for_timeout(300)
    assert tab.locator("#family").input_value() == FAMILY
    on_it = TABLES["open_codes"].filter(pl.col("family") == FAMILY)["vehicle"].unique()
    assert set(vehicles(tab)) == set(on_it)
    full = tab.locator(f"{MAP_MARK}:not({FAINT})").count()
    codes = TABLES["families"].filter(pl.col("family") == FAMILY)["codes"][0].split(";")
    assert full == len(codes) * (len(codes) - 1)
    for chart in ("parts", "trend"):
        assert tab.locator(f"#chart-{chart} {FAINT}").count() > 0
    seen = "all => [...new Set(all.map(one => one.dataset.family))]"
    assert tab.eval_on_selector_all("[data-family]:is(tr, article):not([hidden])", seen) == [FAMILY]
    listed = tab.eval_on_selector_all("tr[data-codes]:not([hidden])", "all => all.map(one => one.dataset.codes)")
    assert {code for pair in listed for code in pair.split(";")} == set(codes)
    tab.locator(MAP_MARK).nth(place).click(force=True)
    assert tab.locator("#family").input_value() == ""
    assert len(vehicles(tab)) == FIRST.height


def test_a_cost_limit_is_followed_and_survives_a_reload(show: Callable[..., Any]):
    tab = show()
    tab.locator("#most").fill("50")
    wanted = set(FIRST.filter(pl.col("total_cost") <= 50)["vehicle"])
    assert 0 < len(wanted) < FIRST.height
    assert set(vehicles(tab)) == wanted
    tab.wait_for_timeout(300)
    full = FIRST.filter((pl.col("total_cost") <= 50) & (pl.col("action") != "specialist"))
    points = full.unique(["total_cost", "chance", "action"]).height
    assert tab.locator(f'{MARK}:not([opacity="0.12"])').count() == points
    tab.reload()
    tab.wait_for_selector("html[data-drawn]")
    assert tab.locator("#most").input_value() == "50"
    assert set(vehicles(tab)) == wanted


def test_with_no_car_left_every_chart_is_faint(show: Callable[..., Any]):
    tab = show()
    tab.locator("#find").fill("zzz not there")
    tab.wait_for_timeout(300)
    assert tab.locator(f"{MAP_MARK}:not({FAINT})").count() == 0
    assert tab.locator("[data-family]:is(tr, article):not([hidden])").count() == 0


def test_the_keyboard_reaches_every_control_in_the_order_of_the_page(show: Callable[..., Any]):
    tab = show()
    tab.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    tab.evaluate('document.querySelectorAll(".ticket").forEach((one, at) => { if (at > 2) one.remove(); })')
    controls = "a, button, input, select, summary, [tabindex]"
    wanted = tab.evaluate(f"""() => {{
        const all = [...document.querySelectorAll("{controls}")];
        window.controls = all.filter(one => one.checkVisibility() && !one.disabled);
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
    assert tab.evaluate("location.hash") == "#try"


def test_a_make_is_followed_by_every_chart_and_table(show: Callable[..., Any]):
    tab = show()
    make = FIRST.group_by("make").len().sort("len", "make")["make"][0]
    tab.locator("#make").select_option(make)
    tab.wait_for_timeout(300)
    cars = FIRST.filter(pl.col("make") == make)["vehicle"].to_list()
    families = {
        one for joined in TABLES["open_codes"].filter(pl.col("vehicle").is_in(cars))["family"].drop_nulls()
        for one in joined.split(";")
    }  # fmt: skip
    assert 0 < len(families) < TABLES["families"].height
    seen = "all => [...new Set(all.map(one => one.dataset.family))]"
    assert set(tab.eval_on_selector_all("article[data-family]:not([hidden])", seen)) == families
    shown = "all => all.filter(one => +(one.getAttribute('opacity') ?? 1) > 0.2).map(one => one.__data__.datum.family)"
    for chart in ("#chart-trend .mark-symbol.role-mark path", "#chart-parts .mark-rect.role-mark path"):
        assert set(tab.eval_on_selector_all(chart, shown)) <= families
        assert tab.locator(f"{chart}{FAINT}").count() > 0
    told = "all => all.map(one => one.__data__.datum.cars.split(', '))"
    marks = tab.eval_on_selector_all(f'{MARK}:not([opacity="0.12"])', told)
    drawn = FIRST.filter((pl.col("make") == make) & (pl.col("action") != "specialist"))["vehicle"]
    assert set(drawn) <= {car for mark in marks for car in mark}
    assert all(set(cars) & set(mark) for mark in marks)
    assert set(vehicles(tab, "tr[data-vehicle]:not([hidden])")) == set(cars)


def test_a_long_list_is_shown_forty_cars_at_a_time_and_searched_whole(show: Callable[..., Any]):
    tab = show("many")
    assert len(vehicles(tab)) == 40
    assert tab.locator("#shown").inner_text() == "120 of 120 cars"
    more = tab.locator("#rest")
    assert more.evaluate("one => one.tabIndex") == 0
    assert more.inner_text() == "Show 40 more of 80"
    more.focus()
    tab.keyboard.press("Enter")
    assert len(vehicles(tab)) == 80
    forty_first = tab.locator(VISIBLE).nth(40).get_attribute("data-vehicle")
    focused = "document.activeElement.closest('.ticket')?.dataset.vehicle"
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
    tab.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
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
    for name in ("parts", "costs", "trend", "trust"):
        box = tab.locator(f"#chart-{name} svg").bounding_box()
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= width


@pytest.mark.parametrize("width", [390, 820, 1400])
def test_long_names_of_families_are_never_cut_in_a_chart(show: Callable[..., Any], width: int):
    tab = show("long", width=width)
    for chart in ("parts", "trend"):
        seen = tab.eval_on_selector_all(f"#chart-{chart} .role-axis-label text", "all => all.map(one => one.innerHTML)")
        named = [text for text in seen if "Horn" in text]
        assert len(named) >= 4
        assert not [text for text in seen if "…" in text]
        lines = {len(re.findall("<tspan", text)) or 1 for text in named}
        assert lines == ({2} if width == 390 else {1})
        assert all(LONG_WORDS in " ".join(re.sub("<[^>]*>", " ", text).split()) for text in named)
        right = "all => Math.max(...all.map(one => one.getBoundingClientRect().right))"
        assert tab.eval_on_selector_all(f"#chart-{chart} .role-axis-label text", right) <= width


@pytest.mark.parametrize("width", [390, 820, 1400])
@pytest.mark.parametrize("name", ["sample", "long"])
def test_no_name_in_a_chart_meets_another_or_the_axis_above(show: Callable[..., Any], name: str, width: int):
    tab = show(name, width=width)
    edges = """all => all.map(one => {
        const box = one.getBoundingClientRect();
        return [box.left, box.right, box.top, box.bottom, one.textContent];
    })"""
    for chart in ("parts", "trend"):
        labels = tab.eval_on_selector_all(f"#chart-{chart} .role-axis-label text", edges)
        rules = tab.eval_on_selector_all(f"#chart-{chart} .role-axis-domain line", edges)
        rule = max(bottom for left, right, _, bottom, _ in rules if right - left > 100)
        names = [label for label in labels if not re.fullmatch(r"[\d%-]+", label[4])]
        assert len(names) >= 7
        assert len(labels) > len(names), "dates or shares stand above the rule"
        assert [label[4] for label in names if label[2] <= rule] == []
        assert [(one[4], other[4]) for one, other in combinations(labels, 2) if _meet(one, other)] == []


def _meet(one: list[float], other: list[float]) -> bool:
    """Whether two boxes of left, right, top and bottom share a place; a pixel may be the font's own margin."""
    return all(one[k] < other[k + 1] - 1 and other[k] < one[k + 1] - 1 for k in (0, 2))


def test_dark_and_light_differ_in_page_and_chart(show: Callable[..., Any]):
    looks = []
    for scheme in ("light", "dark"):
        tab = show(scheme=scheme)
        looks.append(
            tab.evaluate(f"""() => [
                getComputedStyle(document.querySelector(".paper")).backgroundColor,
                getComputedStyle(document.querySelector("{MARK}")).stroke,
                getComputedStyle(document.querySelector("#chart-map .layer_1_marks path")).fill,
            ]""")
        )
    assert all(light != dark for light, dark in zip(*looks, strict=True))
    assert all(colour.startswith("rgb") for look in looks for colour in look)


def test_on_paper_the_rows_behind_the_first_are_open(show: Callable[..., Any]):
    tab = show()
    rest = ".later:not([open])"
    closed = tab.locator(rest).count()
    assert closed > 0
    tab.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert tab.locator(rest).count() == 0
    tab.emulate_media(media="print")
    assert not tab.locator(".filters").is_visible()
    tab.evaluate("dispatchEvent(new Event('afterprint'))")
    assert tab.locator(rest).count() == closed


def test_a_young_dealers_page_opens_quietly(show: Callable[..., Any]):
    tab = show("empty", width=390)
    assert tab.locator(".vega-embed").count() == 0
    assert tab.get_by_text("There is nothing to try this week.").is_visible()
