"""Unlike exports of one and the same scans, each by its mapping, come out as the same rows."""

import csv
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from analysis.vocabulary.codes import read_code
from analysis.vocabulary.modules import ModuleIndex
from fixtures.draw_workbook import draw
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import load_mappings
from pipelines.reading.recognise import choose, read_file

FIXTURES = Path(__file__).parents[3] / "fixtures"
EXPORTS = FIXTURES / "exports"
MAPPINGS = load_mappings(FIXTURES)
# Two hours ahead of universal time all year: one export is in universal time.
ZONE = ZoneInfo("Africa/Johannesburg")
REFERENCE = Path(__file__).parents[3] / "sql" / "reference" / "modules.csv"
INDEX = ModuleIndex.from_rows(csv.DictReader(REFERENCE.open(encoding="utf-8")))
UNLIKE = ("semicolons.csv", "wide.tsv", "nested.json", "workbook.xlsx", "slip.txt", "ledger.prn", "sixteen.lst")
# The wide table has a cell a module, so it can carry neither of these.
NOT_IN_WIDE = ("status", "text")


def normalised(name):
    """Return a file's rows as the vocabulary sees them, sorted."""
    reading = read_file(EXPORTS / name, LAYOUTS["scans"], ZONE, MAPPINGS)
    assert reading.rejects.is_empty(), reading.rejects.rows()
    rows = []
    for row in reading.rows.drop("row").iter_rows(named=True):
        read = read_code(row["code"], row["failure_type"]) if row["code"] else None
        seen = {
            "module": INDEX.canonical(row["module"])[0],
            "module_state": row["module_state"] or "read",
            "code": read.short if read else None,
            "failure_type": read.failure_type if read else None,
        }
        rows.append({**row, **seen})
    return sorted(rows, key=lambda row: tuple(value or "" for value in row.values()))


def test_there_is_a_mapping_for_each_and_each_is_chosen_by_itself():
    chosen = {name: choose(EXPORTS / name, MAPPINGS).name for name in UNLIKE}
    assert chosen == {name: f"mappings/{name.partition('.')[0]}.toml" for name in UNLIKE}
    assert choose(EXPORTS / "scans.csv", MAPPINGS) is None


@pytest.mark.parametrize("name", UNLIKE)
def test_unlike_exports_give_the_same_rows(name):
    wanted, found = normalised("scans.csv"), normalised(name)
    assert len(wanted) == 10
    for row in (*wanted, *found):
        row.pop("scanned_at_utc")  # some of the exports tell the offset of their times, and some do not
    for rows in (wanted, found) if name.startswith("wide") else ():
        for row in rows:
            row.update(dict.fromkeys(NOT_IN_WIDE))
        rows.sort(key=lambda row: tuple(value or "" for value in row.values()))
    assert found == wanted


def test_the_files_are_as_unlike_as_they_claim():
    assert (EXPORTS / "sixteen.lst").read_bytes().startswith((b"\xff\xfe", b"\xfe\xff"))
    assert "Steuergerät".encode("cp1252") in (EXPORTS / "semicolons.csv").read_bytes()
    with pytest.raises(UnicodeDecodeError):
        (EXPORTS / "semicolons.csv").read_text(encoding="utf-8")


def test_the_workbook_is_the_one_that_the_script_draws(tmp_path):
    draw(tmp_path / "again.xlsx")
    assert (tmp_path / "again.xlsx").read_bytes() == (EXPORTS / "workbook.xlsx").read_bytes()


def test_rows_carry_the_line_they_stand_on():
    reading = read_file(EXPORTS / "slip.txt", LAYOUTS["scans"], ZONE, MAPPINGS)
    lines = dict(enumerate((EXPORTS / "slip.txt").read_text(encoding="utf-8").split("\n"), 1))
    coded = reading.rows.filter(pl.col("code").is_not_null())
    assert coded.height == 5
    for row, code in coded.select("row", "code").iter_rows():
        assert code in lines[row]
