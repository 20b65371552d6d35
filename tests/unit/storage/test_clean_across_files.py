"""A car that a file of its own calls clean: its control units are those of its earlier files, if one device wrote them.

Not known is not gone: of what another device reads, and of what never answered, the word says nothing.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from pipelines.ingest.mapping_draft import draft_by, text_of
from pipelines.settings import Settings
from pipelines.storage.warehouse import Warehouse
from tests.support.small_dealer import build, load, workspace

HEAD = "Day;Car;Unit;Fault;Wording;State\n"
BEFORE = (
    HEAD + "2026-05-05;A1;Engine;P0301;misfire;active\n2026-05-05;A1;ABS;C0035;sensor;active\n"
    "2026-05-05;B2;Gearbox;P0700;fault;active\n2026-05-05;A1;Airbag;;no answer;\n"
)
CLEAN = (
    HEAD + "2026-05-09;A1;all;;no faults;\n2026-05-09;B2;Gearbox;P0700;fault;active\n2026-05-09;B2;Airbag;;no answer;\n"
)
OWN = "vehicle,scanned_at,module,code\nA1,2026-05-06T09:00,BCM,B1325\n"


def readings(folder: Path, *, mapped: bool, before: str = BEFORE, day: str = "2026-05-09") -> list[str]:
    """The control units of the car's reading of a day, its files taken in one after the other."""
    place = workspace(folder, stock=[{"vehicle": car, "make": "Corvane", "model": "Alder"} for car in ("A1", "B2")])
    first, second = folder / "first.csv", folder / "second.csv"
    first.write_text(before, encoding="utf-8")
    second.write_text(CLEAN, encoding="utf-8")
    (folder / "mappings").mkdir(exist_ok=True)
    for path in (second,) if mapped else (first, second):
        text = text_of(path, draft_by(path, {}, Settings()))
        text = text if mapped else text.replace('"*.csv"', f'"{path.name}"')
        (folder / "mappings" / f"{path.stem}.toml").write_text(text, encoding="utf-8")
    with Warehouse(place.database) as warehouse:
        for path in (first, second):
            path.replace(folder / "inbox" / "scans" / path.name)
            done = load(place, warehouse)
            assert [file.refused for file in done.refused] == []
        (folder / "inbox" / "scans" / "own.csv").write_text(OWN, encoding="utf-8")
        load(place, warehouse)
        build(warehouse, marts=("job_modules",))
        found = warehouse.query(
            "select module from core.readings where vehicle = 'A1' and scanned_at::date = $day::date order by module",
            {"day": day},
        )
    return [str(name) for name in found["module"]]


@pytest.mark.slow
def test_the_units_that_answered_in_earlier_files_of_the_same_form_are_clean(tmp_path: Path):
    # Neither the unit of the other car, nor the one that gave no answer, nor the one that another program read.
    assert readings(tmp_path, mapped=True) == ["ABS", "CAR", "ECM"]


@pytest.mark.slow
def test_what_another_device_read_is_not_known_to_be_clean(tmp_path: Path):
    assert readings(tmp_path, mapped=False) == ["CAR"]


@pytest.mark.slow
def test_what_was_read_later_alone_is_not_known_to_have_been_clean(tmp_path: Path):
    assert readings(tmp_path, mapped=True, before=BEFORE.replace("2026-05-05", "2026-05-12")) == ["CAR"]
