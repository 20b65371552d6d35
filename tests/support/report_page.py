"""The report's page as the tests open it in a browser: what it is made of, and where its things are found."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import polars as pl

from tests.support.sample_report import sample

Show = Callable[..., Any]
"""Opens a page by name, at a width and in a colour scheme, and returns the tab."""

NASTY = "</script><script>window.pwned=1</script><img src=x onerror=window.pwned=1>"
LONG_WORDS = "Horn and wheel buttons, no contact at the clock spring"
TABLES, RUN = sample()
FIRST = TABLES["shortlist"].filter(pl.col("rank") == 1)
VISIBLE = "table.cars > tbody[data-vehicle]:not([hidden])"
MARK = "#chart-costs .mark-symbol.role-mark path"
MAP_MARK = "#chart-map .layer_1_marks path"
FAINT = '[opacity="0.1"]'


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


def totals(tab: Any) -> list[str]:
    """The totals as they are shown."""
    found: list[str] = tab.eval_on_selector_all(".totals dd", "all => all.map(one => one.textContent)")
    return found
