"""The table of standard codes: closed sets, families that count as the standard does, what another list says."""

import csv
import re
from collections import Counter
from importlib.resources import files

import pytest

SYSTEMS = {
    "air intake / boost", "brakes", "brakes ABS/ESC", "climate", "cooling", "cruise control", "diesel preheat",
    "driver information", "driver input", "engine control", "engine timing", "evaporative", "exhaust aftertreatment",
    "fuel", "hybrid / EV", "ignition", "lubrication", "module internal", "network", "power supply", "restraints",
    "starting", "steering / ESC", "transmission", "tyres", "vehicle speed",
}  # fmt: skip
CHECKED = {"two open lists", "one open list", "from memory of the standard"}


@pytest.fixture(scope="module")
def table():
    text = files("sql").joinpath("reference/generic_codes.csv").read_text(encoding="utf-8")
    return {row["code"]: row for row in csv.DictReader(text.splitlines())}


def test_systems_and_ways_of_checking_are_closed_sets(table):
    assert {row["system"] for row in table.values()} == SYSTEMS
    assert {row["checked"] for row in table.values()} == CHECKED


def test_every_letter_is_there_and_most_rows_were_looked_up(table):
    letters = Counter(code[0] for code in table)
    assert letters["P"] > 2000
    assert letters["U"] > 250
    assert min(letters["B"], letters["C"]) > 35
    checked = Counter(row["checked"] for row in table.values())
    assert checked["from memory of the standard"] < 150


# The numbering of SAE J2012's families: a block of a fixed length for each cylinder, bank or letter.
@pytest.mark.parametrize(
    ("code_of", "wording"),
    [
        (lambda n: f"P{200 + n:04d}", "injector circuit cylinder {n}"),
        (lambda n: f"P{261 + 3 * (n - 1):04d}", "injector circuit voltage low, cylinder {n}"),
        (lambda n: f"P{262 + 3 * (n - 1):04d}", "injector circuit voltage high, cylinder {n}"),
        (lambda n: f"P{263 + 3 * (n - 1):04d}", "cylinder {n} adds too little or too much power"),
        (lambda n: f"P{300 + n:04d}", "misfire cylinder {n}"),
        (lambda n: f"P{670 + n:04d}", "glow plug cylinder {n}"),
        (lambda n: f"P{2335 + n:04d}", "cylinder {n} knocks too much"),
        (lambda n: f"P{350 + n:04d}", "ignition coil {letter} driver circuit"),
        (lambda n: f"P{2300 + 3 * (n - 1)}", "ignition coil {letter} driver voltage low"),
        (lambda n: f"P{3401 + 8 * (n - 1)}", "deactivation or intake valve control cylinder {n} circuit open"),
        (lambda n: f"P{3405 + 8 * (n - 1)}", "exhaust valve control cylinder {n} circuit open"),
    ],
)
def test_twelve_cylinders_are_counted_through(table, code_of, wording):
    for number in range(1, 13):
        said = wording.format(n=number, letter="ABCDEFGHIJKL"[number - 1])
        assert table[code_of(number)]["description"].casefold() == said.casefold()


# Bank and sensor of each oxygen sensor block, SAE J2012: P0130, P0136, P0142 bank 1; P0150, P0156, P0162 bank 2.
@pytest.mark.parametrize(
    ("first", "bank", "sensor"), [(130, 1, 1), (136, 1, 2), (142, 1, 3), (150, 2, 1), (156, 2, 2), (162, 2, 3)]
)
def test_oxygen_sensors_are_counted_by_bank_and_place(table, first, bank, sensor):
    for code in range(first, first + 6):
        row = table[f"P{code:04d}"]
        assert f"xygen sensor {sensor}" in row["description"]
        assert row["description"].endswith(f"bank {bank}")
        assert row["component"] == ("oxygen sensor upstream" if sensor == 1 else "oxygen sensor downstream")


def test_lost_partners_follow_and_never_lead(table):
    lost = [row for code, row in table.items() if "U0100" <= code <= "U02FF"]
    assert len(lost) > 120
    assert {row["role_hint"] for row in lost} == {"knock-on"}
    assert all(row["description"].startswith("No messages from ") for row in lost)


def test_no_two_codes_say_the_same(table):
    # Of chassis codes the editions disagree which wheel is meant, so several say only that.
    said = Counter(row["description"] for row in table.values() if "differs by edition" not in row["description"])
    assert [text for text, times in said.items() if times > 1] == []


WORDS = {
    "low": r"\blow\b", "high": r"\bhigh\b", "range": r"implausible|does not perform|disagree|wrong|fit|fault|out of",
    "intermittent": r"drops? in and out|erratic", "no signal": r"no signal", "stuck open": r"stuck open",
    "stuck closed": r"stuck closed",
}  # fmt: skip
LISTED = {
    "low": r"(?<!Too )\bLow(?: Input| Voltage)?$", "high": r"(?<!Too )\bHigh(?: Input| Voltage)?$",
    "range": r"Range/Performance$", "intermittent": r"Intermittent(?:/Erratic)?$", "no signal": r"No Signal$",
    "stuck open": r"Stuck Open$", "stuck closed": r"Stuck Closed$",
}  # fmt: skip


def test_an_open_list_of_the_same_codes_says_the_same_kind_of_fault(table):
    others = pytest.importorskip("obd.codes", reason="the reference table of generic codes is not installed").DTC
    others = {code.upper(): text for code, text in others.items()}
    held = 0
    for code, row in table.items():
        for kind, pattern in LISTED.items():
            if re.search(pattern, others.get(code, "")):
                assert re.search(WORDS[kind], row["description"], re.IGNORECASE), (code, others[code], row)
                held += 1
        for mark in re.findall(r"[Cc]ylinder #?(\d+)|Gear (\d)", others.get(code, "")):
            number = "".join(mark)
            assert re.search(rf"\b{number}\b", row["description"]), (code, others[code], row)
    assert held > 800


def test_the_words_are_our_own(table):
    others = pytest.importorskip("obd.codes", reason="the reference table of generic codes is not installed").DTC
    others = {code.upper(): text.casefold() for code, text in others.items()}
    long = [row for code, row in table.items() if len(row["description"].split()) > 3 and code in others]
    assert len(long) > 1000
    same = [row["description"] for row in long if row["description"].casefold() == others[row["code"]]]
    # A bare name ("fuel composition sensor circuit") is what anybody would call the thing.
    assert [text for text in same if not text.endswith("circuit")] == []
    assert len(same) < 0.02 * len(long)
