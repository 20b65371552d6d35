"""Files that mean harm, or come out as if they did: each is refused with a reason, or its content stays plain text."""

import io
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import openpyxl
import polars as pl
import pytest

from pipelines.errors import InputFileError, SettingsError
from pipelines.reading.mapping import pdf_text, workbook_reader
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.mapping.pdf_text import read_pdf
from pipelines.reading.mapping.workbook_reader import sheet_rows
from pipelines.storage.warehouse import Warehouse
from tests.support.small_dealer import load, write
from tests.support.small_dealer import workspace as make_workspace

SCAN = {"vehicle": "A1", "scanned_at": "2026-03-01T09:00", "module": "ECM", "code": "P0301"}
XLSX = """\
serves = ["*.xlsx"]
format = "xlsx"

[columns]
vehicle = "vehicle"
scanned_at = "scanned_at"
module = "module"
code = "code"
text = "text"
"""


@pytest.fixture
def place(tmp_path):
    made = make_workspace(tmp_path / "dealer")
    (made.root / "mappings").mkdir()
    (made.root / "mappings" / "sheet.toml").write_text(XLSX)
    return made


def taken_in(place):
    """Take the inbox in; return what became of it and the raw scans' codes and texts."""
    with Warehouse(place.database) as warehouse:
        done = load(place, warehouse)
        return done, warehouse.fetch("raw.scans").select("code", "text").rows()


def refusal(place):
    """Return why the only file of the inbox is refused; nothing of it is loaded."""
    done, rows = taken_in(place)
    [file] = done.refused
    assert (rows, done.loaded, done.busy) == ([], [], [])
    return file.refused


def book(*rows):
    out = io.BytesIO()
    made = openpyxl.Workbook()
    for row in rows:
        made.active.append(row)
    made.save(out)
    return out.getvalue()


HEADER = ["vehicle", "scanned_at", "module", "code", "text"]
GOOD = ["A1", "2026-03-01 09:00", "ECM", "P0301", "plain"]


def test_a_formula_in_a_sheet_sets_its_row_aside_with_its_place(place):
    rows = [HEADER, GOOD, ["A1", "2026-03-01 09:00", "ECM", "P0302", '=HYPERLINK("http://x.invalid","go")']]
    (place.inbox / "scans" / "sheet.xlsx").write_bytes(book(*rows))
    with Warehouse(place.database) as warehouse:
        [file] = load(place, warehouse).loaded
        assert (file.rows_read, file.rows_loaded, file.rows_refused) == (2, 1, 1)
        rejects = warehouse.fetch("raw.rejects").select("row", "column", "value", "why").rows()
    assert rejects == [
        (
            3,
            "text",
            '=HYPERLINK("http://x.invalid","go")',
            "a formula without a stored value; expected the value itself",
        )
    ]


def test_a_formula_or_a_script_in_a_comma_file_is_a_text_like_any_other(place):
    texts = ["=1+1", "@SUM(A1)", "<script>alert(1)</script>", "</script><img src=x onerror=alert(1)>", "' or 1=1; --"]
    write(place.inbox / "scans" / "a.csv", [{**SCAN, "code": f"P030{n}", "text": text} for n, text in enumerate(texts)])
    done, rows = taken_in(place)
    assert done.loaded[0].rows_loaded == 5
    assert rows == [(f"P030{n}", text) for n, text in sorted(enumerate(texts))]


@pytest.mark.skipif(os.name == "nt", reason="Windows forbids such file names")
@pytest.mark.parametrize(
    "name",
    [
        """it's "quoted".csv""",
        "a;b.csv",
        "'; drop table raw.scans; --.csv",
        "up%2F..%2Fpasswd.csv",
        "a..\\..\\up.csv",
        "two\nlines.csv",
        "\x1b[31mred.csv",
        "=cmd|calc.csv",
        "<b onclick=x>.csv",
        "x" * 240 + ".csv",
        os.fsdecode(b"no\xfftext.csv"),
    ],
    ids=ascii,
)
@pytest.mark.parametrize("good", [True, False])
def test_odd_file_names_are_only_names(place, name, good):
    content = "vehicle,scanned_at,module,code\nA1,2026-03-01 09:00,ECM,P0301\n" if good else "nothing,here\n1,2\n"
    (place.inbox / "scans" / name).write_text(content)
    before = {path for path in place.root.parent.rglob("*") if path.is_dir()}
    done, rows = taken_in(place)
    [file] = done.loaded if good else done.refused
    assert len(rows) == good
    assert file.name.isprintable()
    assert not list((place.inbox / "scans").iterdir())
    kept_in = (place.archive if good else place.rejected) / "scans"
    [kept] = [path for path in kept_in.iterdir() if not path.name.endswith(".why.txt")]
    assert kept.read_text() == content
    made = {path for path in place.root.parent.rglob("*") if path.is_dir()} - before
    assert {path.relative_to(place.root).parts[0] for path in made} <= {"archive", "rejected", ".knockon"}


def bomb(size, name="xl/worksheets/sheet1.xml"):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed, packed.open(name, "w") as part:
        for _ in range(size):
            part.write(bytes(2**20))
    return out.getvalue()


@pytest.mark.slow
def test_a_zip_bomb_is_refused_by_what_it_would_unpack_to(place):
    content = bomb(300)
    assert len(content) < 400_000
    (place.inbox / "scans" / "bomb.xlsx").write_bytes(content)
    assert refusal(place) == (
        "scans/bomb.xlsx: the workbook unpacks to 1 parts and 300 MB; expected at most 5000 parts and 256 MB. "
        "The file was not loaded."
    )


def test_a_bomb_that_lies_about_its_size_unpacks_to_no_more_than_it_says(place):
    honest = book(HEADER, GOOD, *([["A1", "2026-03-01 09:00", "ECM", "P0301", "x" * 1000]] * 500))
    packed = zipfile.ZipFile(io.BytesIO(honest))
    sheet = packed.getinfo("xl/worksheets/sheet1.xml")
    size = sheet.file_size.to_bytes(4, "little")
    assert honest.count(size) >= 1
    (place.inbox / "scans" / "liar.xlsx").write_bytes(honest.replace(size, (100).to_bytes(4, "little")))
    assert "it cannot be read as a workbook" in refusal(place)


def test_entities_that_grow_without_end_are_refused(place):
    out = io.BytesIO()
    laughs = '<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    with zipfile.ZipFile(io.BytesIO(book(HEADER, GOOD))) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "xl/worksheets/sheet1.xml":
                content = b"<?xml version='1.0'?>" + laughs.encode() + content[content.index(b"<worksheet") :]
                content = content.replace(b">plain<", b">&b;<")
            new.writestr(name, content)
    (place.inbox / "scans" / "laughs.xlsx").write_bytes(out.getvalue())
    assert "it cannot be read as a workbook (EntitiesForbidden" in refusal(place)


@pytest.mark.slow
def test_a_cell_in_a_far_corner_does_not_fill_the_memory(tmp_path, monkeypatch):
    made = openpyxl.Workbook()
    for column, cell in enumerate(HEADER, 1):
        made.active.cell(1, column, cell)
    made.active.cell(1_048_576, 16_384, "far")
    path = tmp_path / "far.xlsx"
    made.save(path)
    assert [(number, len(cells)) for number, cells in sheet_rows(path, None)] == [(1, 5), (1_048_576, 16_384)]
    monkeypatch.setattr(workbook_reader, "_MOST_CELLS", 10_000)
    with pytest.raises(InputFileError, match=r"far\.xlsx row 1048576: more than 10000 cells; expected fewer\. "):
        list(sheet_rows(path, None))


def test_a_line_of_two_gigabytes_is_refused_before_it_is_read(place):
    path = place.inbox / "scans" / "huge.csv"
    with path.open("wb") as handle:
        handle.truncate(2 * 2**30)
    assert refusal(place) == (
        "scans/huge.csv: the file has 2048 MB; expected at most 512 MB. Split it. The file was not loaded. "
        "It stays where it is, unread."
    )
    assert path.exists()


def test_a_long_line_in_a_small_file_is_a_cell_too_long(place):
    (place.inbox / "scans" / "long.csv").write_text(
        f"vehicle,scanned_at,module,text,code\nA1,2026-03-01 09:00,ECM,{'x' * 3_000_000},\nA2,2026-03-01 09:00,ECM,o,\n"
    )
    with Warehouse(place.database) as warehouse:
        [file] = load(place, warehouse).loaded
        assert (file.rows_loaded, file.rows_refused) == (1, 1)
        [(row, column, value, why)] = warehouse.fetch("raw.rejects").select("row", "column", "value", "why").rows()
    assert (row, column, why) == (2, "text", "expected a text of at most 131072 characters")
    assert len(value) == 200


def test_a_header_that_is_one_long_line_is_refused(place):
    (place.inbox / "scans" / "header.csv").write_text("x" * 5_000_000)
    assert refusal(place) == (
        "scans/header.csv line 1: found 5000000 characters; expected a header of at most 65536. The file was not "
        "loaded. No mapping fits it either; 'knockon map FILE' drafts one."
    )


@pytest.mark.slow
def test_a_parquet_file_of_very_many_equal_rows_is_refused_by_their_number(place):
    rows = pl.select(vehicle=pl.lit("A1"), scanned_at=pl.lit("2026-03-01"), module=pl.lit("ECM")).lazy()
    many = rows.select(pl.all().repeat_by(6_000_000).explode(empty_as_null=True)).collect()
    path = place.inbox / "scans" / "many.parquet"
    many.write_parquet(path)
    assert path.stat().st_size < 1_000_000
    assert "the file unpacks to 6000000 rows and " in refusal(place)


def test_a_parquet_file_that_ends_other_readers_is_refused(place):
    # Found by the fuzz run: a decoder that is not Arrow's asks for two million terabytes, and the program ends at once.
    spoiled = Path(__file__).parents[3] / "fixtures" / "hostile" / "spoiled.parquet"
    (place.inbox / "scans" / "spoiled.parquet").write_bytes(spoiled.read_bytes())
    write(place.inbox / "scans" / "good.csv", [SCAN])
    done, rows = taken_in(place)
    assert rows == [("P0301", None)]
    assert "spoiled.parquet: it cannot be read as Parquet (" in done.refused[0].refused


@pytest.mark.skipif(os.name == "nt", reason="links need a right of their own there")
def test_links_and_pipes_are_not_followed(place, tmp_path):
    outside = tmp_path / "outside.csv"
    write(outside, [SCAN])
    (place.inbox / "scans" / "link.csv").symlink_to(outside)
    os.mkfifo(place.inbox / "scans" / "pipe.csv")
    done, rows = taken_in(place)
    assert rows == []
    assert [file.refused for file in done.refused] == [
        f"scans/link.csv: is a link to {outside}; expected a file of its own. It stays where it is, unread.",
        "scans/pipe.csv: is no file but a device or a pipe; expected a file. It stays where it is, unread.",
    ]
    assert outside.exists()


def test_two_mappings_that_fit_are_one_too_many(place):
    (place.root / "mappings" / "other.toml").write_text(XLSX)
    (place.inbox / "scans" / "sheet.xlsx").write_bytes(book(HEADER, GOOD))
    assert refusal(place) == (
        "scans/sheet.xlsx: fits mappings/other.toml and mappings/sheet.toml; expected one. Give each a signature, or "
        "narrower file patterns. The file was not loaded."
    )


def test_a_file_that_nothing_fits_is_refused_with_a_hint(place):
    (place.inbox / "scans" / "odd.xyz").write_text("hello")
    assert refusal(place).endswith("The file was not loaded. No mapping fits it either; 'knockon map FILE' drafts one.")


def pdf(*lines):
    """Return a PDF of one page that prints the lines, written by hand."""
    shown = "".join(f"({line}) Tj T* " for line in lines)
    page = f"BT /F1 10 Tf 12 TL 50 700 Td {shown}ET".encode("latin-1")
    objects = [
        b"<</Type/Catalog/Pages 2 0 R>>",
        b"<</Type/Pages/Kids[3 0 R]/Count 1>>",
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 600 800]/Contents 4 0 R/Resources<</Font<</F1 5 0 R>>>>>>",
        b"<</Length %d>>stream\n%s\nendstream" % (len(page), page),
        b"<</Type/Font/Subtype/Type1/BaseFont/Courier>>",
    ]
    out, places = b"%PDF-1.4\n", []
    for number, content in enumerate(objects, 1):
        places.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (number, content)
    table = b"".join(b"%010d 00000 n \n" % place for place in places)
    return (
        out
        + b"xref\n0 6\n0000000000 65535 f \n"
        + table
        + b"trailer<</Size 6/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF" % len(out)
    )


def test_a_pdf_is_read_by_the_patterns_of_its_text(place):
    (place.root / "mappings" / "print.toml").write_text(
        'serves = ["*.pdf"]\nformat = "pdf"\n[text]\n'
        "scan = '^Car (?<vehicle>\\S+) at (?<scanned_at>.+)$'\n"
        "module = '^Unit (?<module>.+)$'\ncode = '^(?<code>P\\d{4})$'\n"
    )
    (place.inbox / "scans" / "one.pdf").write_bytes(pdf("Car A1 at 2026-03-01 09:00", "Unit ECM", "P0301", "P0302"))
    _, rows = taken_in(place)
    assert [code for code, _ in rows] == ["P0301", "P0302"]


def test_a_pdf_that_keeps_its_reader_busy_is_stopped(tmp_path, monkeypatch):
    path = tmp_path / "busy.pdf"
    path.write_bytes(pdf("hello"))
    busy = tmp_path / "busy.py"
    busy.write_text("while True: pass\n")
    monkeypatch.setattr(pdf_text, "_CHILD", busy)
    monkeypatch.setattr(pdf_text, "_SECONDS", 1)
    with pytest.raises(
        InputFileError, match=r"busy\.pdf: reading took more than 1 seconds\. The file was not loaded\."
    ):
        read_pdf(path)


@pytest.mark.parametrize(
    ("content", "why"), [(b"%PDF-1.4 and nothing", "it cannot be read as a PDF"), (b"hi", "is no PDF")]
)
def test_a_damaged_pdf_is_refused(tmp_path, content, why):
    path = tmp_path / "bad.pdf"
    path.write_bytes(content)
    with pytest.raises(InputFileError, match=why):
        read_pdf(path)


def test_the_child_that_reads_pdfs_sees_nothing_of_the_folder_it_is_started_in(tmp_path):
    (tmp_path / "pypdf.py").write_text("raise SystemExit(9)")
    child = Path(pdf_text.__file__).with_name("pdf_child.py")
    done = subprocess.run(
        [sys.executable, "-I", str(child)], input=pdf("hello"), capture_output=True, cwd=tmp_path, check=False
    )
    assert (done.returncode, done.stdout.split()) == (0, [b"hello"])


def test_a_mapping_file_that_is_wrong_stops_the_run_before_any_file(place):
    (place.root / "mappings" / "bad.toml").write_text('serves = ["*.x"]\nformat = "tabel"\n')
    write(place.inbox / "scans" / "a.csv", [SCAN])
    with Warehouse(place.database) as warehouse, pytest.raises(SettingsError, match=r"mappings/bad\.toml:2: format: "):
        load(place, warehouse)
    assert (place.inbox / "scans" / "a.csv").exists()
    assert load_mapping(place.root / "mappings" / "sheet.toml").format == "xlsx"
