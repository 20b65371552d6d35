"""Addresses of modules in every form a tool writes, and the names that a dealer teaches."""

from __future__ import annotations

import csv
from importlib.resources import files

import pytest

from analysis.vocabulary.addresses import address_of
from analysis.vocabulary.modules import ModuleIndex
from pipelines.ingest.normalise import normalise_spellings
from pipelines.ingest.own_words import OwnWords, read_own
from pipelines.storage.warehouse import Warehouse
from tests.support.small_dealer import built, load, workspace

SCAN = {"vehicle": "A1", "scanned_at": "2026-03-01T09:00"}
FORMS = ("{}", "0x{}", "{}h", "0X{}", " {} ")


@pytest.fixture(scope="module")
def index():
    text = files("sql").joinpath("reference/modules.csv").read_text(encoding="utf-8")
    return ModuleIndex.from_rows(csv.DictReader(text.splitlines()))


@pytest.mark.parametrize("number", range(8))
def test_request_and_answer_of_one_module_are_one_address(index, number):
    # ISO 15765-4: the answer stands 8 above the request.
    for form in FORMS:
        for identifier in (0x7E0 + number, 0x7E8 + number):
            text = form.format(f"{identifier:X}")
            assert address_of(text) == address_of(text.lower()) == f"7E{number}"
            assert index.canonical(text) == ({0: "ECM", 1: "TCM"}.get(number, f"7E{number}"), number < 2)


@pytest.mark.parametrize(
    ("text", "address"),
    [
        ("18DAF110", "18DA10F1"),
        ("0x18da10f1", "18DA10F1"),
        ("18DAF1F1h", "18DAF1F1"),
        ("760", "760"),
        ("0x728", "728"),
        ("SA 11", "SA 11"),
        ("sa011", "SA 11"),
        ("18FECA0B", "SA 11"),
        ("1CFECB21", "SA 33"),
        ("6E8", None),
        ("7E", None),
        ("18DA1011", None),
        ("SAS", None),
        ("seat", None),
        ("", None),
    ],
)
def test_other_addresses(text, address):
    assert address_of(text) == address


# Source addresses of SAE J1939: 0 engine, 3 transmission, 11 brakes, 33 body, 99 nobody's in the list.
@pytest.mark.parametrize(
    ("text", "module"),
    [
        ("SA 0", ("ECM", True)),
        ("SA 3", ("TCM", True)),
        ("18FECA0B", ("ABS", True)),
        ("sa 33", ("BCM", True)),
        ("SA 99", ("SA 99", False)),
        ("18DAF142", ("18DA42F1", False)),
    ],
)
def test_source_addresses_find_the_lists_modules(index, text, module):
    assert index.canonical(text) == module


def test_a_dealers_names_are_added_and_win_over_the_list(index):
    rows = [
        {"module": "SUN", "name": "Sun roof", "also_called": "roof box;0x7EA"},
        {"module": "bcm", "name": "", "also_called": "central box; ECU;18DAF142"},
        {"module": "TCU", "name": "Telematics unit", "also_called": "roof box"},
    ]
    taught, notes = index.taught(rows)
    spelled = {"sun roof module": "SUN", "7E2": "SUN", "7EAh": "SUN", "central-box": "BCM"}
    spelled |= {
        "ecu": "BCM",
        "18DA42F1": "BCM",
        "tcu": "TCU",
        "telematics UNIT": "TCU",
        "Roof box": "TCU",
        "TCM": "TCM",
    }
    assert {text: taught.canonical(text)[0] for text in spelled} == spelled
    assert notes == [
        "module name 'ECU': the list gives it to ECM; BCM has it now",
        "module name 'TCU': the list gives it to TCM; TCU has it now",
        "module name 'roof box': your own list also gives it to SUN; TCU has it now",
    ]
    assert index.canonical("ECU") == ("ECM", True), "the shipped index is not changed"


@pytest.mark.parametrize(
    ("content", "notes"),
    [
        (None, []),
        ("name,fan\nSun roof,\n", ["modules.csv was not used: the header lacks module; it has name, fan"]),
        ("", ["modules.csv was not used: modules.csv: the file is empty; expected a header line. "
              "The file was not loaded."]),
        ("Module, NAME\nSUN,Sun roof\n,nobody\n", ["modules.csv row 3: module is blank; the row was left out"]),
    ],
)  # fmt: skip
def test_the_dealers_list_is_read_or_named_and_never_stops_a_run(tmp_path, content, notes):
    path = tmp_path / "modules.csv"
    if content is not None:
        path.write_text(content, encoding="utf-8")
    rows, found = read_own(path)
    assert found == notes
    assert rows == ([{"module": "SUN", "name": "Sun roof", "also_called": ""}] if "SUN" in (content or "") else [])


def test_taught_names_reach_the_codes(tmp_path):
    scans = [{"vehicle": "A1", "scanned_at": "2026-03-01T09:00", "module": "0x7EA", "code": "B0001"}]
    place = workspace(tmp_path, scans=scans)
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        assert normalise_spellings(warehouse) == ["module '0x7EA' (1 row) is not in the list of modules; kept as 7E2"]
        assert normalise_spellings(warehouse, OwnWords([{"module": "SUN", "name": "", "also_called": "7EA"}])) == []
        assert warehouse.fetch("spelling.modules").rows() == [("0x7EA", "SUN", True)]


def test_a_list_that_is_not_whole_says_nothing_of_codes_it_lacks(tmp_path):
    # The code that was there before stays unproven however far the car was driven.
    head = {"vehicle": "A1", "module": "ECM"}
    job = {"vehicle": "A1", "job": "J1", "done_at": "2026-03-02T10:00", "odometer": 50000}
    frames = built(
        tmp_path,
        scans=[
            {**head, "scanned_at": "2026-03-01T09:00", "code": "P0301", "odometer": 50000},
            {**head, "scanned_at": "2026-03-09T09:00", "code": "P0420", "odometer": 51000},
            {**head, "scanned_at": "2026-03-09T09:00", "code": "P0?02", "odometer": 51000},
        ],
        repairs=[{**job, "action": "replace", "part": "coil"}, {**job, "action": "erase"}],
    )
    assert frames["outcomes"]["outcome"].to_list() == ["unproven"]
    assert frames["rejects"]["why"].to_list() == [
        "'?' behind P0 is no hex digit. The row counts as read, without a code."
    ]


# The codes' texts name these modules in two open lists of generic codes.
def test_a_network_code_points_at_the_module_that_is_not_heard_or_not_believed(tmp_path):
    told = {"IPC:U0121": "ABS", "ECM:U0101": "TCM", "EPS:U0415": "ABS", "ABS:U0402": "TCM", "ECM:P0301": None}
    scans = [SCAN | dict(zip(("module", "code"), key.split(":"), strict=True)) for key in told]
    codes = built(tmp_path, ("codes",), scans=scans)["codes"]
    assert dict(codes.select("code", "points_at").iter_rows()) == told
