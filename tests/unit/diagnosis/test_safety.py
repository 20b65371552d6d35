"""The reference tables behind the fixes: complete, in plain words, never a promise."""

import csv
import re
from pathlib import Path

import polars as pl
import pytest

from analysis.diagnosis.decision.safety import Adviser, OpenCode
from analysis.texts.action_text import NO_ROAD, recheck_caution
from tests.support.diagnosis_dealer import reference

# cautions.csv: words, modules and codes (;-separated, one of them must fit), follows (part, name or car), system (of
# those that follow the car's codes), caution.
# first_checks.csv: words, check_first. inspection.csv: countries, module, code (a prefix, blank for all of the
# module), inspection (lamp or note), warning. modifications.csv: keyword, module, code, reason.
BOOK = "price-book.csv"
TABLES = ("cautions", "first_checks", "inspection", "modifications")


def adviser(country: str = "GB") -> Adviser:
    return Adviser(reference("cautions"), reference("first_checks"), reference("inspection"), country)


@pytest.mark.parametrize("name", TABLES)
def test_no_table_promises_anything_and_every_row_is_filled(name):
    table = reference(name)
    words = " ".join(value or "" for row in table.rows() for value in row).lower()
    assert not re.search(r"\bsafe\b|\bsafely\b|roadworth|\bpass(es|ed)?\b", words)
    assert table.height > 10
    assert table.select(pl.last()).to_series().null_count() == 0


@pytest.mark.parametrize(
    ("part", "home", "module", "code", "word"),
    [
        ("brake hose", "", "ABS", "C0044", "firm pedal"),
        ("ABS hydraulic unit", "ABS", "ABS", "C0020", "firm pedal"),
        ("clock spring", "", "SRS", "B0001", "firing circuits"),
        ("seat connector", "SRS", "SRS", "B0020", "firing circuits"),
        ("steering angle sensor", "SAS", "SAS", "C0051", "Steering work"),
        ("traction battery", "BECM", "BECM", "P0A80", "High voltage"),
        ("anything at all", "BECM", "BECM", "P0AA6", "High voltage"),
        ("fuel injector", "ECM", "ECM", "P0201", "no flame"),
        ("wheel speed sensor", "ABS", "ABS", "C0031", "under a car on a jack"),
        ("oxygen sensor", "ECM", "ECM", "P0130", "Hot exhaust"),
        ("battery", "", "BCM", "U3003", "before the battery comes off"),
        ("brake pedal switch", "ECM", "ECM", "P0571", "brake lamps before the car moves"),
        ("spark plug set", "ECM", "ECM", "P0301", "Ignition voltage"),
        ("gateway", "GWM", "GWM", "U0146", "may need coding"),
    ],
)
def test_cautions_by_class_of_component(part, home, module, code, word):
    assert word in adviser().advise(part, [], home, [(module, code)]).caution


@pytest.mark.parametrize(
    ("part", "others", "home", "module", "word"),
    [
        ("battery", ["starter battery"], "", "EPS", "Steering work"),
        ("battery", [], "", "SRS", "Airbag"),
        ("battery", [], "", "BECM", "High voltage"),
        ("blower resistor", ["blower control unit"], "HVAC", "HVAC", "coding"),
        ("thermostat", [], "ECM", "TCM", "gearbox"),
    ],
)
def test_cautions_do_not_follow_the_codes_a_part_happens_to_clear(part, others, home, module, word):
    assert word not in adviser().advise(part, others, home, [(module, "C0001")]).caution


def on_car(*codes: tuple[str, str]) -> str:
    """What the open codes of a car ask for: each a key and its status."""
    return adviser().on_car([OpenCode(key.partition(":")[0], key, status) for key, status in codes])


@pytest.mark.parametrize(
    ("code", "words"),
    [
        # By the module that names it, a maker's own code too.
        ("SRS:B0091", "Airbag or belt code open (SRS:B0091)"),
        ("SRS:B1A11@corvane", "Airbag or belt code open"),
        ("ABS:C0564", "Brake or stability code open"),
        ("EPS:C1604", "Steering code open"),
        ("BECM:P1234@corvane", "High-voltage code open"),
        ("FPCM:P1234@corvane", "Fuel or tank vent code open"),
        # By the number, whoever names it. SAE J2012: B00xx restraints, C00xx chassis, P0A00 to P0FFF hybrid, U0121 lost
        # communication and U0415 invalid data of the anti-lock brakes, U0151 lost communication of the restraints.
        ("BCM:B0020", "Airbag or belt code open"),
        ("IPC:U0151", "Airbag or belt code open"),
        ("TCM:U0415", "Brake or stability code open"),
        ("EPB:U0415", "Brake or stability code open"),
        ("ESC:C0051", "Steering code open"),
        ("ABS:C0051", "Steering code open (ABS:C0051)"),
        ("ECM:P0A80", "High-voltage code open"),
        ("ECM:P0093", "Fuel or tank vent code open"),
    ],
)
def test_a_code_open_on_the_car_is_told_whatever_part_is_fitted(code: str, words: str):
    told = on_car((code, "active"), ("ECM:P0301", "active"))
    assert words in told
    assert told.count("code open (") == 1, "a code speaks of one system"


@pytest.mark.parametrize("code", ["ECM:P0301", "BCM:B1A11@corvane", "BCM:07263@aldane", "IPC:U0100", "DDM:B1341", "X:"])
def test_other_codes_ask_for_nothing_of_the_car(code: str):
    assert on_car((code, "active")) == ""


def test_a_car_with_a_warning_on_has_one_rule_for_the_drive_and_it_names_what_is_on():
    told = on_car(("ABS:C0040", "active"), ("SRS:B0001", "confirmed"), ("SRS:B0002", ""), ("FPCM:P0087", "active"))
    assert told.count(NO_ROAD) == 1
    assert "while a warning of these is on (airbag or belt, brake or stability): drive the test distance on" in told
    assert "as the local rules and licensed practice allow" in told
    assert "(SRS:B0001, SRS:B0002)" in told
    assert NO_ROAD not in on_car(("FPCM:P0087", "active"))
    stored = on_car(("ABS:C0020", "history"), ("ECM:P0301", "active"))
    assert "Brake or stability code open (ABS:C0020)" in stored
    assert NO_ROAD not in stored, "what is stored only keeps no warning on"


def test_no_other_sentence_speaks_of_the_road():
    table = reference("cautions")
    assert not [text for text in table["caution"] if "road" in text.lower()]
    assert not re.search("road", recheck_caution(grave=True) + recheck_caution(grave=False))


# What the first check of each part of the demo's price book must speak of; blank where none is expected.
CHECKS = {
    "ABS module": "hydraulic side", "EGR valve": "soot", "air mass sensor": "should draw",
    "alternator": "charging voltage", "battery": "load test", "blower resistor": "each step",
    "boost hose": "smoke or air", "boost pressure solenoid": "position against command",
    "brake pedal switch": "switch signals", "brake pressure sensor": "rise evenly with the pedal", "cabin filter": "",
    "clock spring": "horn", "coolant temperature sensor": "Cold car", "crank sensor": "cranking", "door loom": "Wiggle",
    "filter pressure sensor": "engine off (zero)", "front brake pads": "wheel off", "fuel cap": "clicks",
    "headlamp level sensor": "linkage", "ignition coil": "misfire moves", "intake hose": "smoke or air",
    "main relay": "equal one", "oil and filter": "", "parking sensor": "ticks", "purge valve": "vacuum",
    "seat connector": "under the seat", "spark plug set": "against the others",
    "steering angle sensor": "straight ahead", "thermostat": "rise steadily", "throttle body": "full travel",
    "tyre pressure sensor": "battery state", "wheel speed ring": "missing tooth", "wheel speed sensor": "drops out",
    "wiper blades": "",
}  # fmt: skip
AIRBAG, COLUMN_WORK = {"clock spring", "seat connector"}, {"steering angle sensor"}
BRAKES = {"ABS module", "brake pressure sensor", "front brake pads"}
CODING = {"ABS module"}


def test_every_part_of_the_demo_has_its_own_advice():
    book = csv.DictReader((Path(__file__).parents[3] / "fixtures/demo/inbox/parts" / BOOK).open(encoding="utf-8"))
    seen = set()
    for row in book:
        part, advice = row["part"], adviser().advise(row["part"], row["also_called"].split(";"), "", [])
        seen.add(part)
        assert CHECKS[part] in advice.check_first if CHECKS[part] else advice.check_first == "", (part, advice)
        for word, parts in (("Airbag", AIRBAG), ("Steering work", COLUMN_WORK), ("Brake work", BRAKES),
                            ("coding", CODING), ("High voltage", set())):  # fmt: skip
            assert (word in advice.caution) == (part in parts), (part, advice.caution)
    assert seen == set(CHECKS)


def test_a_first_check_is_an_instruction_of_a_line():
    # The line of a job sheet holds about so many letters.
    checks = reference("first_checks")["check_first"]
    assert len(checks) > 40
    assert [check for check in checks if len(check) > 105] == []


@pytest.mark.parametrize("part", ["HV battery", "traction battery", "high voltage battery"])
def test_a_high_voltage_battery_gets_no_starter_battery_check(part):
    assert "qualified" in adviser().advise(part, ["battery pack"], "", []).check_first


def test_a_battery_cable_is_no_battery():
    assert "green or loose" in adviser().advise("battery cable", [], "", []).check_first


@pytest.mark.parametrize(
    ("country", "module", "code", "expected"),
    [
        ("GB", "ABS", "C0031", "lamp"),
        ("GB", "TPMS", "C0077", "lamp"),
        ("DE", "TPMS", "C0077", "note"),
        ("FR", "EPS", "C0051", "lamp"),
        ("DE", "ABS", "C0049", "note"),
        ("GB", "RADIO", "B1234", "none"),
        ("US", "ECM", "P0301", "lamp"),
        ("US", "ABS", "C0031", "none"),
        ("JP", "ABS", "C0031", "none"),
    ],
)
def test_inspection_items_by_country(country, module, code, expected):
    assert adviser(country).item([(module, code)]) == expected


def test_the_strongest_item_of_several_codes_counts():
    codes = [("RADIO", "B1234"), ("ABS", "C0049"), ("ABS", "C0031")]
    assert adviser("DE").item(codes) == "lamp"
    assert adviser("DE").item([]) == "none"


def test_synonyms_find_the_first_check():
    assert "crank" in adviser().advise("G28", ["crank position sensor"], "", []).check_first


def test_no_declared_modification_hides_an_emission_fault():
    table = reference("modifications")
    emissions = {"ECM", "PCM", "TCM", "DCU", "GPCM", "FPCM"}
    assert not set(table["module"].drop_nulls()) & emissions
    assert not [code for code in table["code"].drop_nulls() if code.startswith("P")]
    assert table.select("keyword", "module", "code").is_duplicated().sum() == 0
    assert table.filter(pl.col("module").is_null() & pl.col("code").is_null()).is_empty()
