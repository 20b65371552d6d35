"""One browser and one set of pages for all tests of the page, opened from disk and with no network."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from analysis.charts import page
from pipelines.report.job_sheet import TOGETHER, job_sheets
from tests.support.report_page import FIRST, LONG_WORDS, NASTY, RUN, TABLES, Show
from tests.support.sample_report import empty, sample
from tests.support.spoiled_report import spoiled

CHROME = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome", "chrome"))), None)


@pytest.fixture(scope="package")
def browser() -> Iterator[Any]:
    """One browser for all tests of this folder."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright drives the browser; it is not installed")
    if CHROME is None:
        pytest.skip("no Chromium or Chrome found on the path")
    root = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    arguments = [*root, "--disable-gpu", "--disable-background-networking"]
    with sync_api.sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=CHROME, args=arguments)
        yield started
        started.close()


@pytest.fixture(scope="package")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The pages, written to disk."""
    folder = tmp_path_factory.mktemp("report")
    linked = page(TABLES, RUN, {car: car for car in FIRST["vehicle"]})
    made = {"sample": page(TABLES, RUN), "linked": linked, "empty": page(*empty()), "nasty": page(*spoiled(NASTY)),
            "many": page(*sample(120)), "long": page(*long_words())}  # fmt: skip
    sheets = job_sheets(TABLES, RUN)
    made |= {"sheet": _longest(sheets), "nasty sheet": _longest(job_sheets(*spoiled(NASTY)))}
    made |= {"all sheets": sheets[TOGETHER].decode()}
    for name, text in made.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8", newline="\n")
    return {name: folder / f"{name}.html" for name in made}


def long_words() -> tuple[dict[str, pl.DataFrame], dict[str, Any]]:
    """The sample with a long wording on every code."""
    tables, run = sample()
    return tables | {"codes": tables["codes"].with_columns(text=pl.lit(LONG_WORDS))}, run


def _longest(sheets: dict[str, bytes]) -> str:
    """The job sheet with the most on it."""
    return max(
        (sheet.decode() for name, sheet in sheets.items() if name.endswith(".html") and name != TOGETHER),
        key=len,
    )


@pytest.fixture
def show(browser: Any, files: dict[str, Path]) -> Iterator[Show]:
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
