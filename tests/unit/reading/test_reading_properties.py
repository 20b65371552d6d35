"""Whatever bytes a file holds: no crash, a place for each refused row; quick and careful ways agree."""

import csv
import io
import tempfile
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pipelines.errors import InputFileError
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import load_mappings
from pipelines.reading.recognise import read_file, read_mapped
from pipelines.reading.tabular import splitting

ROOT = Path(__file__).parents[3]
MAPPINGS = {mapping.name: mapping for mapping in load_mappings(ROOT / "fixtures")}
EXPORTS = {path.name: path.read_bytes() for path in sorted((ROOT / "fixtures" / "exports").iterdir())}
UTC = ZoneInfo("UTC")
COLUMNS = ["row", *(column.name for column in LAYOUTS["scans"].kept)]


def hold(reading):
    """Check what every reading promises, whatever the file."""
    assert reading.rows.columns == COLUMNS
    assert reading.rows["row"].null_count() == 0
    assert reading.rejects.filter(pl.col("row").is_null() | pl.col("why").is_null()).is_empty()
    assert reading.rows.filter(pl.any_horizontal(pl.col("scanned_at", "module").is_null())).is_empty()
    assert reading.rows.height + reading.rejects["row"].n_unique() <= reading.rows_read + reading.rejects.height
    assert reading.rows.height <= reading.rows_read


def refusal(path, read):
    """Read a file and check what comes out; return why it was refused, or None."""
    why = None
    try:
        hold(read())
    except InputFileError as error:
        why = str(error)
    assert why is None or why.startswith(str(path))
    return why


@st.composite
def damaged(draw):
    """An export of ours with some bytes taken out, put in, doubled or changed."""
    name = draw(st.sampled_from(sorted(EXPORTS)))
    content = bytearray(EXPORTS[name])
    for _ in range(draw(st.integers(1, 4))):
        at, length = draw(st.integers(0, len(content))), draw(st.integers(0, 40))
        put = draw(
            st.one_of(st.binary(max_size=8), st.sampled_from([b'"', b"\n", b";", b",", b"\t", b"{", b"]", b"P0420"]))
        )
        content[at : at + length] = put
    return name, bytes(content)


@pytest.mark.slow
@settings(max_examples=300)
@given(damaged())
def test_a_damaged_export_is_read_or_refused_with_a_reason(case):
    name, content = case
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        why = refusal(path, lambda: read_file(path, LAYOUTS["scans"], UTC, list(MAPPINGS.values())))
        assert why is None or "was not loaded" in why


@pytest.mark.slow
@settings(max_examples=200)
@given(st.sampled_from(sorted(MAPPINGS)), st.binary(max_size=300))
def test_any_bytes_by_any_mapping_are_read_or_refused(name, content):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "any"
        path.write_bytes(content)
        refusal(path, lambda: read_mapped(path, MAPPINGS[name], UTC))


CELLS = st.text(st.characters(exclude_characters="\n\r\0", exclude_categories=["Cs"]), max_size=6)


@settings(max_examples=300)
@given(st.lists(st.lists(CELLS, min_size=3, max_size=3), min_size=1, max_size=6), st.sampled_from(",;\t|^"))
def test_what_a_writer_writes_comes_back(rows, delimiter):
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="\n").writerows(rows)
    frame, rejects = splitting.split_rows(out.getvalue(), 3, {"a": 0, "b": 1, "c": 2}, delimiter)
    blank = {n for n, row in enumerate(rows, 2) if not "".join(row).strip(", \t" + delimiter)}
    got = {row: [cell or "" for cell in cells] for row, *cells in frame.iter_rows() if row not in blank}
    assert got == {n: row for n, row in enumerate(rows, 2) if n not in blank}
    assert rejects == []


@pytest.mark.slow
@settings(max_examples=500)
@given(st.lists(st.text('ab", ;', max_size=12), max_size=5))
@example(['a,"b"'])
@example(['"a""",b', 'a "b",c', '"a"b,c', "", ",", '"",""'])
def test_the_quick_way_agrees_with_the_row_by_row_one(lines):
    body = "\n".join(lines)
    quick, quick_bad = splitting.split_rows(body, 2, {"a": 0, "b": 1})
    slow, slow_bad = splitting._split_row_by_row(body, 2, {"a": 0, "b": 1}, ",", 2)
    filled = pl.any_horizontal(pl.col("a", "b").fill_null("").str.strip_chars() != "")
    assert [(r, a or "", b or "") for r, a, b in quick.filter(filled).iter_rows()] == slow.filter(filled).rows()
    assert sorted((row, why) for row, _, _, why in quick_bad) == sorted((row, why) for row, _, _, why in slow_bad)
