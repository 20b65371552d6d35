"""Blocks of standard codes against the headings that open lists repeat, and against the table of generic codes."""

import csv
from importlib.resources import files

import pytest

from analysis.vocabulary.code_ranges import RANGES, range_of
from analysis.vocabulary.codes import code_to_bytes, control_of


def rows(name):
    text = files("sql").joinpath(f"reference/{name}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


# The section headings of SAE J2012 as an open list of generic codes has them: P01 and P02 fuel and air metering, P03
# ignition or misfire, P04 auxiliary emission controls, P05 speed and idle, P06 computer and output circuits, P07 and
# P08 transmission.
@pytest.mark.parametrize(
    ("code", "system", "module"),
    [
        ("P01FF", "fuel", "ECM"),
        ("P02AA", "fuel", "ECM"),
        ("P03A1", "ignition", "ECM"),
        ("P04FA", "exhaust aftertreatment", "ECM"),
        ("P05C0", "vehicle speed", "ECM"),
        ("P06E0", "module internal", "ECM"),
        ("P07E7", "transmission", "TCM"),
        ("P08FF", "transmission", "TCM"),
    ],
)
def test_a_code_without_an_entry_lies_in_the_block_of_its_heading(code, system, module):
    block = range_of(code)
    assert block is not None
    assert (block.systems[0], block.modules[0], block.basis) == (system, module, "headings")


# From memory of the standard.
@pytest.mark.parametrize(
    ("code", "system", "module"),
    [
        ("P0CFF", "hybrid / EV", "BECM"),
        ("P27F0", "transmission", "TCM"),
        ("C0017", "brakes ABS/ESC", "ABS"),
        ("C0058", "steering / ESC", "SAS"),
        ("B00F0", "restraints", "SRS"),
        ("U011F", "network", "ECM"),
        ("U0133", "network", "ABS"),
        ("U0150", "network", "BCM"),
    ],
)
def test_blocks_known_from_memory(code, system, module):
    block = range_of(code)
    assert block is not None
    assert (block.systems[0], block.modules[0], block.basis) == (system, module, "memory")


def test_the_narrowest_block_wins():
    assert [range_of(code).systems[0] for code in ("P066F", "P0670", "P0684", "P0685")] == [
        "module internal",
        "diesel preheat",
        "diesel preheat",
        "module internal",
    ]


@pytest.mark.parametrize("code", ["P1234", "P3012", "B1001", "U1000", "B3001", "C3001", "B0500", "C0561"])
def test_the_makers_codes_and_unknown_blocks_tell_nothing(code):
    assert range_of(code) is None


def test_no_code_is_refused():
    with pytest.raises(ValueError, match="expected a code like P0301; got 'P030'"):
        range_of("P030")


def test_every_block_is_the_standards_own_and_blocks_lie_inside_one_another_or_apart():
    for block in RANGES:
        first, last = code_to_bytes(block.first), code_to_bytes(block.last)
        assert first < last
        assert control_of(block.first) == control_of(block.last) == "standard"
        for other in RANGES:
            begin, end = code_to_bytes(other.first), code_to_bytes(other.last)
            assert last < begin or end < first or (first <= begin and end <= last) or (begin <= first and last <= end)


def test_blocks_name_known_modules_and_systems_of_the_table():
    assert {module for block in RANGES for module in block.modules} <= {row["module"] for row in rows("modules")}
    assert {system for block in RANGES for system in block.systems} <= {row["system"] for row in rows("generic_codes")}


def test_the_blocks_agree_with_the_codes_that_the_table_explains():
    # The table's systems were given code by code, without the blocks; auxiliary inputs and outputs are a mixed bag.
    told = [(row, range_of(row["code"])) for row in rows("generic_codes")]
    told = [(row, block) for row, block in told if block is not None]
    assert len(told) > 2600
    fits = [row["system"] in block.systems for row, block in told]
    assert sum(fits) / len(fits) > 0.8
    for row, block in told:
        if row["system"] in ("restraints", "hybrid / EV") or row["code"].startswith(("P07", "P08", "P09")):
            modules = {"SRS", "OCS"} if row["system"] == "restraints" else {"TCM", "BECM"}
            assert modules & set(block.modules), row
