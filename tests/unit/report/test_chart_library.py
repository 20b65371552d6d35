"""The library of the charts is kept whole, or made anew; the page is the same either way."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis import charts
from pipelines.report.chart_library import chart_library
from tests.support.sample_report import sample


def kept(folder: Path) -> Path:
    """The one file that stands in the folder."""
    [path] = folder.iterdir()
    return path


def test_it_is_put_together_once_and_makes_the_same_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    made = chart_library(tmp_path)
    assert made == charts.library()
    monkeypatch.setattr(charts, "library", lambda: pytest.fail("it was kept"))
    assert chart_library(tmp_path) == made
    tables, run = sample()
    assert charts.page(tables, run, kept=made) == charts.page(tables, run)


@pytest.mark.parametrize("harm", ["cut", "changed", "not a text", "another version"])
def test_a_file_that_does_not_hold_it_whole_is_never_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, harm: str):
    monkeypatch.setattr(charts, "library", lambda: "window.vegaEmbed = 1;\n// ü")
    made = chart_library(tmp_path)
    path = kept(tmp_path)
    content = path.read_bytes()
    if harm == "another version":
        path.rename(path.with_name("charts-0.1.js"))
    else:
        path.write_bytes(
            {"cut": content[:-2], "changed": content.replace(b"= 1", b"= 2"), "not a text": b"\xff" + content}[harm]
        )
    assert chart_library(tmp_path) == made
    if harm != "another version":
        assert kept(tmp_path).read_bytes() == content


def test_where_it_cannot_be_kept_the_week_goes_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(charts, "library", lambda: "a library")
    assert chart_library(tmp_path / "missing") == "a library"
