"""The library of the charts is kept whole, or made anew; the page is the same either way."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis import charts
from pipelines.report.chart_library import chart_library
from pipelines.shared_files import FOLDER, share_file, shared_file, shared_folder
from tests.support.sample_report import sample


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of shared files of this test's own."""
    monkeypatch.setenv(FOLDER, str(tmp_path / "shared"))
    return tmp_path / "shared"


def kept(folder: Path) -> Path:
    """The one file that stands in the folder."""
    [path] = folder.iterdir()
    return path


@pytest.mark.slow
def test_it_is_put_together_once_and_makes_the_same_page(monkeypatch: pytest.MonkeyPatch):
    made = chart_library()
    assert made == charts.library()
    monkeypatch.setattr(charts, "library", lambda: pytest.fail("it was kept"))
    assert chart_library() == made
    tables, run = sample()
    assert charts.page(tables, run, kept=made) == charts.page(tables, run)


@pytest.mark.parametrize("harm", ["cut", "changed", "not a text", "another version"])
def test_a_file_that_does_not_hold_it_whole_is_never_used(folder: Path, monkeypatch: pytest.MonkeyPatch, harm: str):
    monkeypatch.setattr(charts, "library", lambda: "window.vegaEmbed = 1;\n// ü")
    made = chart_library()
    path = kept(folder)
    content = path.read_bytes()
    if harm == "another version":
        path.rename(path.with_name("charts-0.1.js"))
    elif harm == "not a text":
        share_file(path.name, b"\xff")
    else:
        path.write_bytes({"cut": content[:-2], "changed": content.replace(b"= 1", b"= 2")}[harm])
    assert chart_library() == made
    if harm != "another version":
        assert kept(folder).read_bytes() == content


def test_where_it_cannot_be_kept_the_week_goes_on(folder: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(charts, "library", lambda: "a library")
    folder.write_bytes(b"a file in the folder's place")
    assert chart_library() == "a library"
    monkeypatch.setenv(FOLDER, "no full path")
    assert shared_folder() is None
    assert chart_library() == "a library"
    assert shared_file("charts") is None


def test_who_names_no_folder_has_it_where_the_system_keeps_such_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    # XDG Base Directory Specification 0.8: unset, empty or not a full path means ~/.cache.
    monkeypatch.delenv(FOLDER)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setattr("sys.platform", "linux")
    for told, wanted in {
        "": tmp_path / ".cache",
        "here": tmp_path / ".cache",
        "/var/cache/me": "/var/cache/me",
    }.items():
        monkeypatch.setenv("XDG_CACHE_HOME", told)
        assert shared_folder() == Path(wanted) / "knockon"
    monkeypatch.setattr("sys.platform", "darwin")
    assert shared_folder() == tmp_path / "Library" / "Caches" / "knockon"
    monkeypatch.setattr("sys.platform", "win32")
    monkeypatch.setenv("LOCALAPPDATA", "/users/me/local")
    assert shared_folder() == Path("/users/me/local/knockon")
