"""Module names against the shipped list: every name finds its module, and no unknown one is lost."""

import csv
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.vocabulary.modules import ModuleIndex

COLUMNS = (
    "module",
    "name",
    "also_called",
    "iso15765_request_response",
    "lost_communication_code",
    "invalid_data_code",
)


def rows():
    text = files("sql").joinpath("reference/modules.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def row(module, name, also_called=""):
    return dict.fromkeys(COLUMNS, "") | {"module": module, "name": name, "also_called": also_called}


@pytest.fixture(scope="module")
def index():
    return ModuleIndex.from_rows(rows())


def test_every_name_of_the_shipped_list_finds_its_own_module(index):
    for listed in rows():
        for name in [listed["module"], listed["name"], *filter(None, listed["also_called"].split(";"))]:
            assert index.canonical(name) == (listed["module"], True), name
            assert index.canonical(f"  {name.upper()} ") == (listed["module"], True), name


@pytest.mark.parametrize(
    ("text", "module"),
    [
        ("A/C", "HVAC"),
        ("a/c module", "HVAC"),
        ("Climate Control Unit", "HVAC"),
        ("ABS ECU", "ABS"),
        ("Brake Control Module", "ABS"),
        ("Motor Control Module", "MCU"),
        ("S.R.S.", "SRS"),
        ("Air-Bag", "SRS"),
        ("airbag controller", "SRS"),
        ("ABS / ESC", "ABS"),
        ("engine_control_unit", "ECM"),
        ("ECU", "ECM"),
        # ISO 15765-4: 7E0 asks and 7E8 answers for the engine; 7E1 and 7E9 for the transmission by recommendation.
        ("7E0", "ECM"),
        ("0x7E8", "ECM"),
        ("7e8h", "ECM"),
        ("0x7E1", "TCM"),
        ("7E9", "TCM"),
    ],
)
def test_other_spellings_of_a_known_module(index, text, module):
    assert index.canonical(text) == (module, True)


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("Rear  seat fan", "REAR SEAT FAN"),
        ("x1:left;2@b", "X1 LEFT 2 B"),
        ("7E2", "7E2"),
        ("control module", "CONTROL MODULE"),
        ("::", "UNNAMED"),
    ],
)
def test_an_unknown_module_stays_one_of_its_own(index, text, kept):
    assert index.canonical(text) == (kept, False)


def test_the_two_lists_agree_on_where_a_network_code_points():
    text = files("sql").joinpath("reference/generic_codes.csv").read_text(encoding="utf-8")
    pointed = {generic["code"]: generic["points_at"] for generic in csv.DictReader(text.splitlines())}
    first = {row[column]: row["module"] for row in reversed(rows()) for column in COLUMNS[-2:]}
    named = {code: module for code, module in first.items() if code in pointed}
    assert {code: pointed[code] for code in named} == named
    assert len(named) > 30


@given(st.text(max_size=20))
def test_any_text_names_a_module_that_fits_into_a_codes_key(text):
    index = ModuleIndex.from_rows(rows())
    module, known = index.canonical(text)
    assert module
    assert module == " ".join(module.split())
    assert not set(module) & set(":;@")
    assert index.canonical(module) == (module, known)


def test_a_name_given_to_two_modules_is_refused():
    with pytest.raises(ValueError, match="the module list gives 'fan' to AA and to BB"):
        ModuleIndex.from_rows([row("AA", "First box", "Fan"), row("BB", "Second box", "fan")])


def test_a_shortened_name_that_two_could_mean_goes_to_neither():
    index = ModuleIndex.from_rows([row("AA", "Fan module"), row("BB", "Fan control unit")])
    assert index.canonical("fan module") == ("AA", True)
    assert index.canonical("fan") == ("FAN", False)
