"""The reference tables behind the fixes: complete, in plain words, never a promise."""

import re

import polars as pl
import pytest

from analysis.diagnosis.safety import Adviser
from tests.diagnosis_dealer import reference

# cautions.csv: words and modules (;-separated, one of them must fit), caution, never_cheap (true or false).
# first_checks.csv: words, check_first. inspection.csv: countries, module, code (a prefix, blank for all of the
# module), inspection (lamp or note), warning. modifications.csv: keyword, module, code, reason.
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
    ("part", "module", "code", "word", "never_cheap"),
    [
        ("brake hose", "ABS", "C0044", "firm pedal", True),
        ("ABS hydraulic unit", "ABS", "C0020", "firm pedal", True),
        ("clock spring", "SRS", "B0001", "squib|firing circuits", True),
        ("seat connector", "SRS", "B0020", "firing circuits", True),
        ("steering angle sensor", "SAS", "C0051", "Steering work", True),
        ("traction battery", "BECM", "P0A80", "High voltage", True),
        ("anything at all", "BECM", "P0AA6", "High voltage", True),
        ("fuel injector", "ECM", "P0201", "no flame", False),
        ("wheel speed sensor", "ABS", "C0031", "under a car on a jack", False),
        ("oxygen sensor", "ECM", "P0130", "Hot exhaust", False),
        ("battery", "BCM", "U3003", "before the battery comes off", False),
        ("brake pedal switch", "ECM", "P0571", "prove the base brakes", False),
        ("spark plug set", "ECM", "P0301", "Ignition voltage", False),
    ],
)
def test_cautions_by_class_of_component(part, module, code, word, never_cheap):
    advice = adviser().advise(part, [], [(module, code)])
    assert re.search(word, advice.caution)
    assert advice.never_cheap is never_cheap


def test_a_row_without_a_part_has_no_caution_of_its_own():
    advice = adviser().advise("", [], [("SRS", "B0001")])
    assert (advice.caution, advice.never_cheap, advice.check_first) == ("", False, "")


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
    assert adviser(country).advise("part", [], [(module, code)]).inspection == expected


def test_the_strongest_item_of_several_codes_counts():
    codes = [("RADIO", "B1234"), ("ABS", "C0049"), ("ABS", "C0031")]
    assert adviser("DE").advise("part", [], codes).inspection == "lamp"
    assert adviser("DE").advise("part", [], []).inspection == "none"


def test_synonyms_find_the_first_check():
    assert "crank" in adviser().advise("G28", ["crank position sensor"], []).check_first


def test_no_declared_modification_hides_an_emission_fault():
    table = reference("modifications")
    emissions = {"ECM", "PCM", "TCM", "DCU", "GPCM", "FPCM"}
    assert not set(table["module"].drop_nulls()) & emissions
    assert not [code for code in table["code"].drop_nulls() if code.startswith("P")]
    assert table.select("keyword", "module", "code").is_duplicated().sum() == 0
    assert table.filter(pl.col("module").is_null() & pl.col("code").is_null()).is_empty()
