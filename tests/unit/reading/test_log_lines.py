"""Lines that each tell car, day and codes, and none of their names: a log, or a whole scan along a line."""

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from analysis.vocabulary.modules import ModuleIndex
from pipelines.errors import BatchError
from pipelines.ingest.mapping_draft import draft_of
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_mapped
from pipelines.storage.sql_models import reference_table

INDEX = ModuleIndex.from_rows(reference_table("modules").iter_rows(named=True))
COLUMNS = ("vehicle", "scanned_at", "module", "code", "status")


def drafted(folder: Path, name: str, text: str) -> tuple[Path, Path]:
    path, mapping = folder / name, folder / "m.toml"
    path.write_text(text, encoding="utf-8")
    draft = draft_of(path, {})
    assert [asked.key for asked in draft.open] == []
    mapping.write_text(draft.toml(), encoding="utf-8")
    return path, mapping


def read(path: Path, mapping: Path) -> Reading:
    return read_mapped(path, load_mapping(mapping), ZoneInfo("UTC"))


def rows(reading: Reading) -> list[tuple]:
    found = reading.rows.select(COLUMNS).rows()
    return [(car, when[:16], INDEX.canonical(module)[0], *rest) for car, when, module, *rest in found]


FIRST = ("K-204", "2026-11-12 09:14", "ECM", "P0301", "confirmed")
SHAPES = {
    "a.log": (
        "2026-11-12 09:14:02 K-204 ECM P0301 stored Cylinder 1 misfire\n"
        "2026-11-12 09:14:03 K-204 ABS C0035 active Wheel speed\n2026-11-12 09:14:04 K-204 BCM none\n"
    ),
    "b.log": (
        "[12.11.2026 09:14] K-204 84211km Engine: P0301 (stored)\n"
        "[12.11.2026 09:14] K-204 84211km ABS: C0035 (active)\n[12.11.2026 09:14] K-204 84211km Body: ok\n"
    ),
    "c.txt": "K-204 12.11.2026 09:14 84.211 km: Engine P0301 stored; ABS C0035 active; Body ok\n"
    "K-205 13.11.2026 10:02 50.211 km: Engine P0420 stored; ABS ok\n",
    "d.txt": "Car LT 44 RKM, 12.11.2026 09:14 | Engine: P0301 stored | ABS: C0035 active | Body: no faults\n"
    "Car LT 44 RKP, 13.11.2026 10:02 | Engine: P0420 stored | ABS: no faults\n",
}


@pytest.mark.parametrize("name", SHAPES)
def test_each_line_tells_its_scan(tmp_path, name):
    car = "LT 44 RKM" if name == "d.txt" else "K-204"
    found = rows(read(*drafted(tmp_path, name, SHAPES[name])))
    assert found[:3] == [
        (car, *FIRST[1:]),
        (car, "2026-11-12 09:14", "ABS", "C0035", "active"),
        (car, "2026-11-12 09:14", "BCM", None, None),
    ]


def test_several_codes_of_a_module_keep_their_states(tmp_path):
    text = "12.11.2026 09:14 K-204 Engine: P0301 (stored), P0171 (active)\n13.11.2026 09:14 K-205 ABS: C0035 (active)\n"
    assert rows(read(*drafted(tmp_path, "a.log", text)))[:2] == [
        FIRST,
        ("K-204", "2026-11-12 09:14", "ECM", "P0171", "active"),
    ]


@pytest.mark.parametrize("odd", ["a line of another kind with P0455 in it", "K-206 P0455"])
def test_a_line_that_holds_a_code_and_fits_nothing_is_refused(tmp_path, odd):
    path, mapping = drafted(tmp_path, "a.log", SHAPES["a.log"])
    path.write_text(f"{SHAPES['a.log']}{odd}\n", encoding="utf-8")
    reading = read(path, mapping)
    assert reading.rows.height == 3
    assert 4 in reading.rejects["row"]


def test_a_piece_that_fits_nothing_is_refused_and_the_others_are_read(tmp_path):
    path, mapping = drafted(tmp_path, "c.txt", SHAPES["c.txt"])
    path.write_text(SHAPES["c.txt"].replace("Body ok", "?? C0035"), encoding="utf-8")
    reading = read(path, mapping)
    assert 1 in reading.rejects["row"]
    assert rows(reading)[0][:2] == FIRST[:2]


def test_what_a_mapping_of_lines_needs_is_said(tmp_path):
    mapping = tmp_path / "m.toml"
    head = 'serves = ["*"]\nformat = "lines"\n[columns]\nvehicle = "a"\nscanned_at = "b"\nmodule = "c"\ncode = "d"\n'
    mapping.write_text(head, encoding="utf-8")
    with pytest.raises(BatchError, match="format 'lines' needs cut, and between goes with piece"):
        load_mapping(mapping)
    mapping.write_text(f"{head}[lines]\ncut = '(?<a>x)'\nbetween = ';'\npiece = '(?<c>x)'\n", encoding="utf-8")
    with pytest.raises(BatchError, match=r"lines\.cut names no group rest that could be parted"):
        load_mapping(mapping)
