"""Text from files that would like to be a script stays text, in the page and in the job sheets."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.support.report_page import MAP_MARK, NASTY, VISIBLE, Show, unfold

pytestmark = pytest.mark.slow


def test_foreign_text_runs_nowhere_and_stays_text(show: Show):
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


def test_a_job_sheet_runs_nothing_and_shows_foreign_text_as_text(show: Show):
    tab = show("nasty sheet")
    assert tab.evaluate("window.pwned") is None
    assert tab.locator("img, script").count() == 0
    assert NASTY in tab.locator("h1").inner_text()
