"""A printed text that does not tell car, day or control unit in a way that is known: each question has a way on."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from analysis.vocabulary.modules import ModuleIndex
from pipelines.ingest.mapping_draft import draft_of, read_by
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.draft_mapping import draft_mapping
from pipelines.reading.drafting.pointed import CAR, DAY
from pipelines.settings import Settings
from pipelines.storage.sql_models import reference_table

INDEX = ModuleIndex.from_rows(reference_table("modules").iter_rows(named=True))
CODES = "P0301   Cylinder 1 misfire   stored\nC0031   Wheel speed   stored\n"


def drafted(path: Path, text: str, **answers: str) -> Draft:
    path.write_text(text, encoding="utf-8")
    told = {name.replace("__", "."): answer for name, answer in answers.items()}
    return draft_mapping(path, lambda name: INDEX.canonical(name)[1], told)


def read(path: Path, draft: Draft, *columns: str) -> list[tuple[Any, ...]]:
    assert [asked.key for asked in draft.open] == []
    reading = read_by(path, draft, Settings())
    assert reading.rejects.is_empty()
    return reading.rows.select(columns).rows()


def choices(draft: Draft, key: str) -> tuple[str, ...]:
    return next(asked.choices for asked in draft.questions if asked.key == key)


def test_each_code_tells_its_control_unit_where_the_text_names_none(tmp_path: Path):
    path, text = tmp_path / "a.txt", f"Stock no.: S-201\nTested: 23.11.2026 10:42\n{CODES}"
    assert [asked.key for asked in drafted(path, text).open] == ["text.module"]
    # ISO 15031-6: P is the powertrain's, C the chassis's.
    found = read(path, drafted(path, text, text__module="-"), "vehicle", "module", "code")
    assert found == [("S-201", "ECM", "P0301"), ("S-201", "ABS", "C0031")]


def test_a_line_of_words_that_nobody_knows_names_a_control_unit_where_it_is_said(tmp_path: Path):
    path = tmp_path / "a.txt"
    codes = CODES.splitlines()
    text = f"Stock no.: S-201\nTested: 23.11.2026\nDrive box\n{codes[0]}\nStopping box\n{codes[1]}\n"
    assert choices(drafted(path, text), "text.module") == ("Drive box", "Stopping box")
    found = read(path, drafted(path, text, text__module="Drive box"), "module", "code")
    assert found == [("Drive box", "P0301"), ("Stopping box", "C0031")]


def test_a_day_behind_words_of_another_day_counts_where_it_is_pointed_at(tmp_path: Path):
    path, text = tmp_path / "a.txt", f"Car S-201\nExported on: 02.11.2026\nEngine:\n{CODES}"
    draft = drafted(path, text)
    assert [asked.key for asked in draft.open] == [DAY]
    assert choices(draft, DAY) == ("Exported on: 02.11.2026",)
    found = read(path, drafted(path, text, **{DAY: "Exported on: 02.11.2026"}), "vehicle", "scanned_at")
    assert found == [("S-201", "2026-11-02 00:00:00")] * 2


def test_a_line_with_a_number_is_the_car_where_it_is_pointed_at(tmp_path: Path):
    path, text = tmp_path / "a.txt", f"Folder: 88 blue\nTested: 02.11.2026, 91.204 km\nEngine:\n{CODES}"
    draft = drafted(path, text, decimal=",")
    assert choices(draft, CAR) == ("Folder: 88 blue", "Tested: 02.11.2026, 91.204 km")[:1]
    found = read(path, drafted(path, text, decimal=",", **{CAR: "Folder: 88 blue"}), "vehicle", "odometer")
    assert found == [("88 blue", "91204")] * 2


@pytest.mark.parametrize(
    ("name", "car"),
    [("S-104 faults 2026-11-20", "S-104"), ("2026-11-20 car 104", "104"), ("Car no. 4711 2026-11-20", "4711")],
)
def test_the_files_name_tells_car_and_day_where_no_line_does(tmp_path: Path, name: str, car: str):
    path = tmp_path / f"{name}.txt"
    found = read(path, drafted(path, f"Faults of the yard\n{CODES}", text__module="-"), "vehicle", "scanned_at", "code")
    assert found == [(car, "2026-11-20 00:00:00", code) for code in ("P0301", "C0031")]


@pytest.mark.parametrize("car", ["Alder 2016, 98120 km", "98120 km", "Alder, 98120km"])
def test_a_distance_takes_no_line_with_a_code_whose_words_begin_as_its_unit(tmp_path: Path, car: str):
    path, text = tmp_path / "a.txt", f"Stock no.: S-201\nTested: 23.11.2026\n{car}\nEngine:\n{CODES}"
    assert read(path, drafted(path, text), "odometer", "code") == [("98120", "P0301"), ("98120", "C0031")]


@pytest.mark.parametrize("words", [("Pre", "Post"), ("before repair", "after repair"), ("Pre-Scan", "Post-Scan")])
@pytest.mark.parametrize("heading", ["Pre / Post", "Status", "Scan"])
def test_before_or_after_the_repair_is_no_state_of_a_code(tmp_path: Path, words: tuple[str, str], heading: str):
    path = tmp_path / "a.csv"
    lines = [
        f"S-{number};1{number}.11.2026;Engine;P030{number};{word}" for number, word in enumerate([*words, words[0]], 1)
    ]
    draft = drafted(path, "\n".join([f"Stock no.;Date;Module;Code;{heading}", *lines, ""]))
    assert "status" not in draft.toml()
    assert read(path, draft, "code") == [("P0301",), ("P0302",), ("P0303",)]


def test_a_list_of_parts_with_days_is_no_price_book_unasked(tmp_path: Path):
    path, text = tmp_path / "a.csv", "Part;Day;EUR\nignition coil;12.11.2026;38,50\noxygen sensor;13.11.2026;61,00\n"
    assert [asked.key for asked in drafted(path, text).open] == ["table"]
    plain = text.replace("12.11.2026", "A").replace("13.11.2026", "B")
    assert [asked.key for asked in drafted(path, plain).open] == []


def test_the_line_of_the_print_is_proposed_where_no_other_tells_a_day(tmp_path):
    scans = [
        f"Print no.   : 44{at}7\nPrinted     : 1{at}.01.2026  10:1{at}\nCar: K-20{at}\n\n"
        "[ ENGINE ]\n    P0301   Misfire\n\n"
        for at in range(4)
    ]
    path = tmp_path / "prints.txt"
    path.write_text("".join(scans), encoding="utf-8")
    draft = draft_of(path, {}, None)
    asked = next(asked for asked in draft.questions if asked.key == "text.scan.scanned_at")
    assert (asked.proposal, asked.choices) == ("Printed     : 10.01.2026  10:10", ("Printed     : 10.01.2026  10:10",))
    assert "%H:%M" in draft.toml()
    # Other lines of days are kinds of their own, and then nothing is proposed.
    path.write_text("".join(scan.replace("Car:", "Next service: 01.09.2027\nCar:") for scan in scans), encoding="utf-8")
    asked = next(asked for asked in draft_of(path, {}, None).open if asked.key == "text.scan.scanned_at")
    assert asked.choices == ("Printed     : 10.01.2026  10:10", "Next service: 01.09.2027")
