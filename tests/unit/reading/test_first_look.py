"""Exports seen for the first time: read right with the proposals alone, or asked about with what it means."""

import json
from pathlib import Path

from pipelines.ingest.mapping_draft import draft_of
from tests.unit.reading.test_plain_proposals import asked, rows


def test_the_day_of_a_scan_counts_and_not_the_day_the_file_was_made(tmp_path):
    # 1772442000 is 2026-03-02 09:00 in UTC, 1773307800 is 2026-03-12 09:30; the file was made later.
    scan = {"startTime": 1772442000, "units": [{"ecu": "Engine", "dtcs": [{"code": "P0201", "status": "active"}]}]}
    later = {"startTime": 1773307800, "units": [{"ecu": "ABS", "dtcs": [{"code": "C0044", "status": "stored"}]}]}
    text = json.dumps({"date": 1780000000, "vehicles": [{"stock": "R-310", "visits": [scan, later]}]})
    found = rows(tmp_path, "a.json", text, "vehicle", "scanned_at", "code")
    assert found == [("R-310", "2026-03-02 09:00:00", "P0201"), ("R-310", "2026-03-12 09:30:00", "C0044")]


def test_a_day_of_the_whole_file_is_asked_about_where_no_scan_has_one(tmp_path):
    units = [{"ecu": "Engine", "dtcs": [{"code": "P0201", "status": "active"}]}]
    cars = [{"stock": "R-310", "units": units}, {"stock": "R-311", "units": units}]
    text = json.dumps({"exported": "2026-03-12", "vehicles": cars})
    assert "columns.scanned_at" in asked(tmp_path, "a.json", text)


BLOCK = "Kenteken: RT-512-K\nDatum: 3 maart 2026\nTijd: {clock}\nKm-stand: 51.204\nModule: {module}\n"


def test_a_time_of_day_with_a_point_and_a_word_behind_it_is_read(tmp_path):
    text = BLOCK.format(clock="8.05 uur", module="Motor")
    text += "Foutcode: P0201\nOmschrijving: Verstuiver 1\nStatus: actueel\n\n"
    text += text.replace("8.05", "16.40").replace("P0201", "P0202")
    found = rows(tmp_path, "a.txt", text, "scanned_at", "code")
    assert found == [("2026-03-03 08:05:00", "P0201"), ("2026-03-03 16:40:00", "P0202")]


def test_words_below_a_module_without_a_code_say_of_the_module_and_below_a_code_of_the_code(tmp_path):
    text = BLOCK.format(clock="08:05", module="Motor")
    text += "Foutcode: U0121\nOmschrijving: Geen communicatie met ABS\nStatus: actueel\n\n"
    text += BLOCK.format(clock="08:05", module="Airbag") + "Foutcode:\nOmschrijving: geeft geen antwoord\n"
    found = rows(tmp_path, "a.txt", text, "module", "code", "status", "module_state")
    assert found == [("ECM", "U0121", "active", None), ("Airbag", None, None, "silent")]


def test_a_letter_behind_each_code_is_asked_about_and_then_its_state(tmp_path):
    text = "Car,Date,Module,Faults\nR-310,2026-03-02,Engine,P0201 (K)\nR-310,2026-03-02,ABS,C0044 (T) / C0045 (K)\n"
    text += "R-311,2026-03-04,Engine,P0203 (T)\nR-311,2026-03-04,ABS,no faults\n"
    assert asked(tmp_path, "a.csv", text) == ["values.status.K", "values.status.T"]
    legend = "K = current; T = stored,,,\n" + text
    found = rows(tmp_path, "b.csv", legend, "code", "status")
    assert found[:3] == [("P0201", "active"), ("C0044", "confirmed"), ("C0045", "active")]


BOOK = "Part,Price,Labour (h)\n{first},,\nTie rod end,31.20,0.5\nDrop link,14.90,0.4\n{second},,\nHorn,18.00,0.3\n"


def test_headings_of_groups_in_a_price_book_and_its_footnote_are_no_parts(tmp_path):
    text = BOOK.format(first="Steering", second="Electrics") + "\n** ex VAT,,\n"
    found = rows(tmp_path, "a.csv", text, "part", "supplier", "part_cost")
    assert [(part, cost) for part, _, cost in found] == [("Tie rod end", "31.2"), ("Drop link", "14.9"), ("Horn", "18")]
    assert {supplier for _, supplier, _ in found} == {None}


MILEAGE = "Car,Date,Mileage,Module,Code\nR-310,2026-03-02,41230,Engine,P0201\nR-311,2026-03-04,80211,ABS,C0044\n"


def test_a_mileage_without_a_unit_is_asked_about_unless_the_settings_say_it(tmp_path: Path):
    assert asked(tmp_path, "a.csv", MILEAGE) == ["constants.odometer_unit"]
    draft = draft_of(tmp_path / "a.csv", {}, None, "mi")
    assert draft.open == []
    assert 'odometer_unit = "mi"' in draft.toml()
    assert asked(tmp_path, "b.csv", MILEAGE.replace("Mileage", "Mileage km")) == []
