"""Everyday words of a dealer's files: ends of print-outs, states, money for work, and what was done to a part."""

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from analysis.vocabulary.modules import ModuleIndex
from pipelines.errors import BatchError
from pipelines.ingest.mapping_draft import check_decided, draft_of
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.read_table import Reading, read_table
from pipelines.reading.recognise import read_mapped
from pipelines.settings import Settings
from pipelines.storage.sql_models import reference_table

INDEX = ModuleIndex.from_rows(reference_table("modules").iter_rows(named=True))


def written(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def mapping_of(folder: Path, path: Path, rate: float | None = None, **answers: str) -> Path:
    """Write the mapping that the proposals make of a file; nothing may be open but what is answered here."""
    draft = draft_of(path, answers, rate)
    assert [asked.key for asked in draft.open] == []
    return written(folder, "drafted.toml", draft.toml())


def by(mapping: Path, path: Path) -> Reading:
    return read_mapped(path, load_mapping(mapping), ZoneInfo("UTC"))


def rows(folder: Path, name: str, text: str, *columns: str) -> list[tuple]:
    path = written(folder, name, text)
    reading = by(mapping_of(folder, path), path)
    assert reading.rejects.rows() == []
    return reading.rows.select(columns).rows()


def canonical(found: list[tuple]) -> list[tuple]:
    return [(INDEX.canonical(module)[0], *rest) for module, *rest in found]


HEAD = "Car: K-204\nDate: 12.11.2026 09:14\nMileage: 84,211 km\n\n"


@pytest.mark.parametrize(
    "headings",
    [
        ("01 ENGINE", "17 INSTRUMENTS (address 17)", "03 BRAKES"),
        ("[01] Engine", "[17] Instruments", "[03] Brakes"),
        ("0x10 Engine", "0x17 Instruments [0x17]", "0x1A Brakes"),
        ("Adr 01: Engine (part 123)", "Adr 17: Instruments", "Adr 03: Brakes"),
        ("1A Engine:", "17 Instruments (17):", "03 Brakes:"),
    ],
)
def test_an_address_and_a_name_are_a_modules_heading(tmp_path, headings):
    engine, instruments, brakes = headings
    text = f"{HEAD}{engine}\n P0301 Misfire (active)\n{instruments}\n no faults\n{brakes}\n C0035 Sensor (stored)\n"
    found = rows(tmp_path, "a.txt", text, "module", "code", "status", "odometer")
    assert canonical(found) == [
        ("ECM", "P0301", "active", "84211"),
        ("IPC", None, None, "84211"),
        ("ABS", "C0035", "confirmed", "84211"),
    ]


@pytest.mark.parametrize(
    "end",
    ["end of print-out", "*** END OF REPORT ***", "page 1 of 2", "Seite 2 von 2", "no further entries", "-- Ende --"],
)
def test_lines_of_the_paper_are_no_modules_and_no_wording(tmp_path, end):
    # Modules are any line of words here, and the wording stands on the line below each code.
    text = f"{HEAD}Engine\n P0301 (active)\n   Misfire\n{end}\nBrakes\n C0035 (stored)\n   Wheel speed\n   {end}\n"
    path = written(tmp_path, "a.txt", text)
    mapping = mapping_of(tmp_path, path)
    wanted = [("ECM", "P0301", "Misfire"), ("ABS", "C0035", "Wheel speed")]
    assert canonical(by(mapping, path).rows.select("module", "code", "text").rows()) == wanted
    # Nor in the next file of the kind, whose lines the draft has not seen: what is below belongs to the module above.
    path.write_text(f"{HEAD}Engine\n P0301 (active)\n   Misfire\n{end}\n P0171 (stored)\n   Lean\n", encoding="utf-8")
    found = canonical(by(mapping, path).rows.select("module", "code", "text").rows())
    assert found == [("ECM", "P0301", "Misfire"), ("ECM", "P0171", "Lean")]


HEX = "Car;Date;Unit;{heading}\nK-204;12.11.2026;Engine;{0}\nK-204;12.11.2026;ABS;{1}\nK-205;13.11.2026;Body;{2}\n"


@pytest.mark.parametrize(
    ("heading", "cells"),
    [
        ("Code", ("030108", "403512", "93171C")),
        ("DTC hex", ("0x030108", "0x403512", "0x93171c")),
        ("DTC", ("03 01 08", "40 35 12", "93 17 1C")),
    ],
)
def test_three_bytes_are_a_code_and_its_failure_type(tmp_path, heading, cells):
    # By hand from SAE J2012: the first two bits are the letter, the next two the first digit; 0x93 is 10 01 0011.
    found = rows(tmp_path, "a.csv", HEX.format(*cells, heading=heading), "code")
    assert found == [("P0301-08",), ("C0035-12",), ("B1317-1C",)]


def test_six_digits_that_are_no_failure_types_are_asked_about(tmp_path):
    path = written(tmp_path, "a.csv", HEX.format("480A1A", "480AE2", "93171C", heading="Code"))
    assert [asked.key for asked in draft_of(path, {}).open] == ["codes.form"]
    mapping = mapping_of(tmp_path, path, None, **{"codes.form": "as written"})
    assert by(mapping, path).rows["code"].to_list() == ["480A1A", "480AE2", "93171C"]


def test_a_moment_with_its_offset_is_that_moment(tmp_path):
    one = "Car: K-{car}\nTaken: 2026-11-16T06:40:00{zone}\nEngine\n P0301 Misfire (active)\n"
    text = one.format(car=204, zone="Z") + one.format(car=205, zone="+02:00")
    assert rows(tmp_path, "a.txt", text, "vehicle", "scanned_at") == [
        ("K-204", "2026-11-16 06:40:00"),
        ("K-205", "2026-11-16 04:40:00"),
    ]


def test_a_broken_list_of_values_without_a_line_for_the_car_is_drafted_all_the_same(tmp_path):
    text = '{"number": "S-104",\n "when": "2026-11-16T06:40:00Z",\n "id": "P0301",\n "name": "Engine"\n'
    assert draft_of(written(tmp_path, "a.json", text), {}).questions


def test_a_line_with_a_code_is_never_one_of_the_paper(tmp_path):
    text = f"{HEAD}Engine\nP0301\nP0171\nBrakes\nC0035\n"
    assert canonical(rows(tmp_path, "a.txt", text, "module", "code"))[:2] == [("ECM", "P0301"), ("ECM", "P0171")]


SCANS = "Car;Date;Unit;DTC;{heading}\nK-204;12.11.2026;Engine;P0301;{one}\nK-205;13.11.2026;ABS;C0035;{two}\n"


@pytest.mark.parametrize("word", ["stored", "gespeichert", "GESPEICHERT", "mémorisé", "not present"])
def test_a_usual_state_is_known_though_the_first_file_had_it_not(tmp_path, word):
    path = written(tmp_path, "a.csv", SCANS.format(heading="Status", one="active", two="active"))
    mapping = mapping_of(tmp_path, path)
    path.write_text(SCANS.format(heading="Status", one=word, two="active"), encoding="utf-8")
    reading = by(mapping, path)
    means = "history" if word == "not present" else "confirmed"
    assert reading.rows["status"].to_list() == [means, "active"]
    path.write_text(SCANS.format(heading="Status", one="blorp", two="active"), encoding="utf-8")
    reading = by(mapping, path)
    assert reading.rejects.select("row", "column", "value").rows() == [(2, "status", "blorp")]


@pytest.mark.parametrize(("one", "other", "means"), [("active", "stored", "confirmed"), ("AKTIV", "PASSIV", "history")])
def test_a_usual_state_is_known_in_printed_lines_too(tmp_path, one, other, means):
    text = f"{HEAD}Engine\n P0301 Misfire {one}\nBrakes\n C0035 Sensor {one}\n"
    path = written(tmp_path, "a.txt", text)
    mapping = mapping_of(tmp_path, path)
    path.write_text(text.replace(f"Sensor {one}", f"Sensor {other}"), encoding="utf-8")
    found = by(mapping, path).rows.select("code", "text", "status").rows()
    assert found == [("P0301", "Misfire", "active"), ("C0035", "Sensor", means)]


def test_what_a_mapping_says_of_a_word_counts_before_its_usual_meaning(tmp_path):
    path = written(tmp_path, "a.csv", SCANS.format(heading="Status", one="active", two="stored"))
    mapping = mapping_of(tmp_path, path)
    mapping.write_text(mapping.read_text(encoding="utf-8").replace('stored = "confirmed"', 'stored = "history"'))
    assert by(mapping, path).rows["status"].to_list() == ["active", "history"]


@pytest.mark.parametrize(
    ("heading", "one", "two"),
    [("How is it", "stored", "active"), ("state now", "gone", "there"), ("Bemerkenswert", "gespeichert", "aktiv")],
)
def test_a_column_of_states_is_known_by_what_is_in_it(tmp_path, heading, one, two):
    found = rows(tmp_path, "a.csv", SCANS.format(heading=heading, one=one, two=two), "status")
    assert found == [("history" if one == "gone" else "confirmed",), ("active",)]


def test_a_heading_for_states_yields_to_a_column_that_has_them(tmp_path):
    text = "Car;Date;Unit;DTC;How is it;State\nK-204;12.11.2026;Engine;P0301;stored;Ready\n"
    assert rows(tmp_path, "a.csv", f"{text}K-205;13.11.2026;ABS;C0035;active;Ready\n", "status") == [
        ("confirmed",),
        ("active",),
    ]


LABOUR = "Job,Car,Date,Part,Action,Part price,{heading}\n1,K-204,2026-11-12,coil,replaced,45.90,{one}\n"
LABOUR += "2,K-205,2026-11-13,sensor,replaced,39.00,{two}\n"


@pytest.mark.parametrize("heading", ["labour €", "Lohn", "Lohn netto", "Labour cost", "Main d'œuvre EUR"])
def test_money_for_work_becomes_minutes_at_the_rate(tmp_path, heading):
    path = written(tmp_path, "a.csv", LABOUR.format(heading=heading, one="90.00", two="22.50"))
    mapping = mapping_of(tmp_path, path, rate=45.0)
    # By hand: 90 at 45 an hour are two hours, 22.50 half an hour.
    assert by(mapping, path).rows["labour_minutes"].to_list() == ["120", "30"]


def test_money_for_work_is_never_minutes_without_a_rate(tmp_path):
    path = written(tmp_path, "a.csv", LABOUR.format(heading="Lohn", one="90.00", two="22.50"))
    assert [asked.key for asked in draft_of(path, {}).open] == ["labour_rate"]
    mapping = written(tmp_path, "m.toml", draft_of(path, {}).toml())
    with pytest.raises(BatchError, match="labour: money, or units, need labour_rate beside it, and nothing else does"):
        load_mapping(mapping)
    check_decided(path, Settings(), {})


@pytest.mark.parametrize(("answer", "minutes"), [("money", "80"), ("hours", "3600"), ("minutes", "60")])
def test_amounts_under_a_heading_that_names_no_unit_are_asked_about(tmp_path, answer, minutes):
    path = written(tmp_path, "a.csv", LABOUR.format(heading="Labour", one="60.00", two="45.00"))
    assert [asked.key for asked in draft_of(path, {}, 45.0).open] == ["labour"]
    mapping = mapping_of(tmp_path, path, 45.0, labour=answer)
    assert by(mapping, path).rows["labour_minutes"][0] == minutes


def test_minutes_that_the_heading_names_are_not_asked_about(tmp_path):
    text = LABOUR.format(heading="Labour (min)", one="60.50", two="45.00")
    assert rows(tmp_path, "a.csv", text, "labour_minutes") == [("60.5",), ("45",)]


def test_a_stock_lists_plate_stands_beside_its_number_or_is_it(tmp_path):
    text = "Stock no;Reg;Make;Model;Bought\nK-204;LT 44 RKM;Kestrin;Quill;01.09.2026\n"
    text += "K-205;LT 45 AAA;Olmedo;Vex;27.09.2026\n"
    assert rows(tmp_path, "a.csv", text, "vehicle", "plate") == [("K-204", "LT 44 RKM"), ("K-205", "LT 45 AAA")]
    bare = "\n".join(line.partition(";")[2] for line in text.splitlines())
    assert rows(tmp_path, "b.csv", bare, "vehicle", "plate") == [("LT 44 RKM", None), ("LT 45 AAA", None)]


def test_a_stock_list_of_ours_is_told_what_takes_its_plates(tmp_path):
    path = written(tmp_path, "a.csv", "vehicle,make,model,Reg\nK-204,Kestrin,Quill,LT 44 RKM\n")
    reading = read_table(path, LAYOUTS["stock"], ZoneInfo("UTC"))
    assert any("Reg can name the cars too" in note for note in reading.notes)
    assert reading.rows["plate"].to_list() == [None]


def test_a_plate_with_blanks_names_the_car_of_a_printed_text(tmp_path):
    text = "Vehicle LT 44 RKM\nDate 27.11.2026\nEngine\n P0301 Misfire (stored)\n"
    assert rows(tmp_path, "a.txt", text, "vehicle") == [("LT 44 RKM",)]


def test_the_first_half_of_a_plate_is_no_number_of_a_car(tmp_path):
    text = "Report for LT44 RKM   VIN XX7A5FB49EY390031\n27.11.2026 14:05\nEngine\n P0301 Misfire (stored)\n"
    assert rows(tmp_path, "a.txt", text, "vehicle", "vin") == [("LT44 RKM", "XX7A5FB49EY390031")]


def test_two_names_of_one_state_are_that_state_and_of_two_are_asked_about(tmp_path):
    text = SCANS.format(heading="Status", one='"stored, intermittent"', two="active / present")
    assert rows(tmp_path, "a.csv", text, "status") == [("confirmed",), ("active",)]
    path = written(tmp_path, "b.csv", text.replace("intermittent", "pending"))
    assert [asked.key for asked in draft_of(path, {}).open] == ["values.status.stored, pending"]


WORK = "Job,Car,Date,{part},{action}\n"
DONE = (
    ("throttle body", "cleaned", "clean"),
    ("steering angle sensor", "reset", "adjust"),
    ("headlamp", "adjusted", "adjust"),
    ("battery", "checked", "inspect"),
    ("coil", "replaced", "replace"),
)


def test_cleaned_reset_adjusted_and_checked_are_no_replacement(tmp_path):
    head = WORK.format(part="Parts fitted", action="How")
    lines = [f"{at},K-20{at},2026-11-1{at},{part},{word}\n" for at, (part, word, _) in enumerate(DONE)]
    wanted = [(part, means) for part, _, means in DONE]
    assert rows(tmp_path, "a.csv", head + "".join(lines), "part", "action") == wanted
    joined = [f"{at},K-20{at},2026-11-1{at},{part} {word}\n" for at, (part, word, _) in enumerate(DONE)]
    assert rows(tmp_path, "b.csv", "Job,Car,Date,Work\n" + "".join(joined), "part", "action") == wanted


def test_a_reset_of_no_part_is_an_erase(tmp_path):
    text = "Job,Car,Date,Part,Action\n1,K-204,2026-11-12,fault memory,reset\n2,K-204,2026-11-13,,reset\n"
    text += "3,K-205,2026-11-14,window motor,reset\n"
    found = rows(tmp_path, "a.csv", text, "part", "action")
    assert found == [(None, "erase"), (None, "erase"), ("window motor", "adjust")]


def test_parts_fitted_are_not_new_ones_where_another_column_says_otherwise(tmp_path):
    text = "Job,Car,Date,Parts fitted,Remark\n1,K-204,2026-11-12,throttle body,cleaned only\n"
    text += "2,K-205,2026-11-13,coil,customer waits\n3,K-206,2026-11-14,sensor,\n"
    path = written(tmp_path, "a.csv", text)
    assert "columns.action" in [asked.key for asked in draft_of(path, {}).open]
    path.write_text(text.replace("cleaned only", "noisy"), encoding="utf-8")
    assert [asked.key for asked in draft_of(path, {}).open] == []


def test_parts_changed_on_a_day_are_repairs_and_other_work_beside_them_is_asked_about(tmp_path):
    text = "Visit;Car;Date;Parts changed;Other work;Parts EUR\n1;K-204;27.11.2026;coil;throttle body cleaned;45,90\n"
    path = written(tmp_path, "a.csv", f"{text}2;K-206;28.11.2026;battery;;99,00\n")
    assert 'table = "repairs"' in draft_of(path, {}).toml()
    assert "columns.action" in [asked.key for asked in draft_of(path, {}).open]


def test_several_works_of_a_cell_are_a_row_each_and_cost_once(tmp_path):
    text = 'Job,Car,Date,Part,Action,Part price\n1,K-204,2026-11-12,battery,"checked, replaced",99.00\n'
    text += "2,K-205,2026-11-13,throttle body,cleaned; adjusted,4.00\n3,K-206,2026-11-14,coil,replaced,45.90\n"
    assert rows(tmp_path, "a.csv", text, "part", "action", "part_cost") == [
        ("battery", "inspect", None),
        ("battery", "replace", "99"),
        ("throttle body", "clean", "4"),
        ("throttle body", "adjust", None),
        ("coil", "replace", "45.9"),
    ]


def test_a_clock_of_twelve_hours_may_have_a_point(tmp_path):
    text = "Car K-204\nRead 27 Nov 2026 2.05pm\nEngine\n P0301 Misfire (active)\n"
    assert rows(tmp_path, "a.txt", text, "scanned_at") == [("2026-11-27 14:05:00",)]


def test_several_parts_of_a_text_go_with_what_was_done_to_each(tmp_path):
    text = 'Job,Car,Date,Work,Part price\n1,K-204,2026-11-12,"replaced coil, cleaned throttle body",45.90\n'
    text += "2,K-205,2026-11-13,replaced nut and bolt,3.50\n"
    assert rows(tmp_path, "a.csv", text, "part", "action", "part_cost") == [
        ("coil", "replace", "45.9"),
        ("throttle body", "clean", None),
        ("nut and bolt", "replace", "3.5"),
    ]
