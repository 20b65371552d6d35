"""The page on telephones and screens, in light and dark: nothing sticks out, meets or is hard to read."""

from __future__ import annotations

import re
from itertools import combinations
from pathlib import Path

import pytest

from tests.support.report_page import LONG_WORDS, MARK, Show, unfold

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("width", [390, 820, 1400])
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["sample", "empty", "sheet", "all sheets"])
def test_the_accessibility_checker_finds_nothing_serious(show: Show, name: str, width: int, scheme: str):
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
def test_a_job_sheet_fits_any_width(show: Show, width: int, scheme: str):
    assert show("sheet", width=width, scheme=scheme).evaluate("document.documentElement.scrollWidth") == width


@pytest.mark.parametrize("width", [390, 820, 1400])
def test_every_column_to_fill_in_is_seen_whole_and_no_chance_is_cut(show: Show, width: int):
    cells = "all => all.map(one => one.getBoundingClientRect()).filter(box => box.left < 0 || box.right > innerWidth)"
    assert show("sheet", width=width).eval_on_selector_all("td", cells) == []
    cut = "all => all.filter(one => one.scrollWidth > one.clientWidth + 1).map(one => one.textContent)"
    assert show(width=width).eval_on_selector_all("tbody:not([hidden]) td.chance", cut) == []


@pytest.mark.parametrize("width", [390, 820, 1400])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_sticks_out_at_any_width(show: Show, width: int, scheme: str):
    assert show("many", width=width, scheme=scheme).evaluate("document.documentElement.scrollWidth") == width
    tab = show(width=width, scheme=scheme)
    assert tab.evaluate("document.documentElement.scrollWidth") == width
    unfold(tab)
    for name in ("clusters", "costs", "trend", "trust", "ledger"):
        box = tab.locator(f"#chart-{name} svg").bounding_box()
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= width


@pytest.mark.parametrize("width", [390, 820, 1400])
def test_long_names_of_families_are_never_cut_in_the_trend(show: Show, width: int):
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
def test_no_name_beside_a_family_meets_another(show: Show, name: str, width: int):
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
def test_no_name_in_a_chart_meets_another_or_the_axis_above(show: Show, name: str, width: int):
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


def test_dark_and_light_differ_in_page_and_chart(show: Show):
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
