"""What leaves the page: tables and pictures that are saved, and paper."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.support.report_page import FIRST, TABLES, Show, vehicles

pytestmark = pytest.mark.slow


def test_what_is_chosen_is_saved_as_table_and_picture(show: Show):
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
    assert ">Chosen: part battery</text>" in picture
    assert saved["clusters.png"].startswith(b"\x89PNG")
    with tab.expect_download() as download:
        tab.locator(".filters .menu summary").click()
        tab.locator("#save-list").click()
    lines = list(csv.reader(io.StringIO(Path(download.value.path()).read_text(encoding="utf-8-sig"), newline="")))
    assert len(lines) - 1 == len(vehicles(tab))
    rows = {line[0]: dict(zip(lines[0], line, strict=True)) for line in lines[1:]}
    for vehicle in vehicles(tab):
        first, row = FIRST.filter(vehicle=vehicle).row(0, named=True), rows[vehicle]
        assert float(row["cost"]) == first["total_cost"], "a plain number"
        assert (first["caution"] or "") in row["mind"]
        assert (first["check_first"] or "").removeprefix("Checking first is cheaper: ")[1:] in row["check first"]
        if first["action"] != "specialist":
            assert float(row["chance"]) == first["chance"]


def test_a_page_to_print_holds_the_week_or_what_is_chosen(show: Show):
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


def test_the_report_prints_on_few_pages_and_the_week_on_one(show: Show):
    tab = show()
    pages = PdfReader(io.BytesIO(tab.pdf(prefer_css_page_size=True))).pages
    assert len(pages) <= 8
    assert "Week 2026-W48 on one sheet" in pages[0].extract_text()
    assert "Money at stake" in pages[0].extract_text()
    asked = TABLES["standing"].filter(state="proposed")["codes"][0].split(";")[0]
    assert any(asked in page.extract_text() for page in pages), "what to decide on stands on paper too"
