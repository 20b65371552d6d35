"""Codes, failure types and statuses against published bytes, other decoders and every one of the 65,536 codes."""

import csv
import dataclasses
import re
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.vocabulary.codes import bytes_to_code, code_to_bytes, control_of, read_code, status_of
from analysis.vocabulary.failure_types import failure_type_meaning

# Bytes and their text from the open test suites of two general libraries: scapy (UDS, and OBD up to
# P0A24) and python-OBD (the last three).
UDS_PAIRS = [
    ("110711", "P1107-11"),
    ("023212", "P0232-12"),
    ("010711", "P0107-11"),
    ("064300", "P0643-00"),
    ("163100", "P1631-00"),
    ("140312", "P1403-12"),
    ("480A46", "C080A-46"),
]
OBD_PAIRS = [
    ("0143", "P0143"),
    ("02CD", "P02CD"),
    ("0A24", "P0A24"),
    ("0104", "P0104"),
    ("8003", "B0003"),
    ("4123", "C0123"),
]


def reference(name):
    text = files("sql").joinpath(f"reference/{name}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


@pytest.mark.parametrize(("sent", "text"), OBD_PAIRS)
def test_two_bytes_spell_the_published_code(sent, text):
    assert bytes_to_code(*bytes.fromhex(sent)) == text


@pytest.mark.parametrize(("sent", "text"), UDS_PAIRS)
def test_three_bytes_spell_the_published_code_and_failure_type(sent, text):
    high, low, failure_type = bytes.fromhex(sent)
    read = read_code(text)
    assert (read.short, read.failure_type) == (bytes_to_code(high, low), f"{failure_type:02X}")


def test_every_code_survives_text_and_bytes():
    # All 65,536, and the text is spelled here by the standard's layout in another way: as one number's bits.
    for number in range(65_536):
        bits = f"{number:016b}"
        text = "PCBU"[int(bits[:2], 2)] + str(int(bits[2:4], 2)) + f"{int(bits[4:], 2):03X}"
        assert bytes_to_code(number >> 8, number & 255) == text
        assert code_to_bytes(text) == (number >> 8, number & 255)


def test_an_independent_diagnostic_library_decodes_the_same():
    udsoncan = pytest.importorskip("udsoncan", reason="the reference decoder of failure type bytes is not installed")
    codes = [0x110711, 0x403115, 0xC12187, 0x56789A, 0xA5B6C7]
    for code in codes:
        dtc = udsoncan.Dtc(code)
        read = read_code(dtc.id_iso())
        assert read.short == bytes_to_code(code >> 16, code >> 8 & 255)
        assert read.failure_type == f"{code & 255:02X}"


def test_an_independent_packet_library_decodes_the_same():
    layer = pytest.importorskip("scapy.contrib.automotive.obd.services", reason="the reference packets are missing")
    letters = {"Powertrain": "P", "Chassis": "C", "Body": "B", "Network": "U"}
    for number in (0x0301, 0x4031, 0x8003, 0xC121, 0xF003, 0x2463):
        packet = layer.OBD_DTC(number.to_bytes(2, "big"))
        digits = "".join(f"{packet.getfieldval(name):X}" for name in ("code1", "code2", "code3", "code4"))
        assert bytes_to_code(number >> 8, number & 255) == letters[packet.sprintf("%location%")] + digits


@pytest.mark.parametrize("pair", [(256, 0), (0, -1)])
def test_bytes_out_of_range_are_refused(pair):
    with pytest.raises(ValueError, match=re.escape(f"each in 0..255; got {pair[0]}, {pair[1]}")):
        bytes_to_code(*pair)


def test_text_that_is_no_code_has_no_bytes():
    with pytest.raises(ValueError, match=re.escape("expected a code like P0301; got 'P4301'")):
        code_to_bytes("P4301")


# SAE J2012's ranges. The limits at P3400 and U3 agree with two open lists; B1 to B3 and C1 to C3 are from memory.
@pytest.mark.parametrize(
    ("short", "control"),
    [
        ("P0301", "standard"),
        ("P2463", "standard"),
        ("P1301", "maker"),
        ("P3000", "maker"),
        ("P33FF", "maker"),
        ("P3400", "standard"),
        ("P3FFF", "standard"),
        ("B0001", "standard"),
        ("B1317", "maker"),
        ("B2FFF", "maker"),
        ("B3000", "reserved"),
        ("C0031", "standard"),
        ("C1004", "maker"),
        ("C2000", "maker"),
        ("C3000", "reserved"),
        ("U0121", "standard"),
        ("U1000", "maker"),
        ("U2000", "maker"),
        ("U3003", "standard"),
    ],
)
def test_who_controls_a_code(short, control):
    assert control_of(short) == control
    read = read_code(short)
    assert (read.kind, read.scoped_by_make) == (control, control == "maker")


@pytest.mark.parametrize(
    ("text", "short", "failure_type"),
    [
        ("p0301", "P0301", None),
        (" P0301 ", "P0301", None),
        ("P\u00a00301", "P0301", None),
        ("P 0301", "P0301", None),
        ("P-0301", "P0301", None),
        ("P0301-00", "P0301", "00"),
        ("P0301:00", "P0301", "00"),
        ("P0301\u201300", "P0301", "00"),
        ("C003515", "C0035", "15"),
        ("C0035 15", "C0035", "15"),
        ("b0001-1a", "B0001", "1A"),
        ("P0a24", "P0A24", None),
        ("00532", "00532", None),
        ("01314", "01314", None),
        ("0301", "0301", None),
        ("2a87", "2A87", None),
        ("93C41F", "93C41F", None),
        ("93C41F-08", "93C41F-08", None),
        ("1E05", "1E05", None),
        ("E013-012", "E013-012", None),
        ("SPN 110 FMI 3", "SPN110/3", None),
        ("spn110/3", "SPN110/3", None),
        ("SPN: 157, FMI: 7", "SPN157/7", None),
    ],
)
def test_spellings_that_are_accepted(text, short, failure_type):
    read = read_code(text)
    assert (read.short, read.failure_type, read.why) == (short, failure_type, None)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("PO301", "it has the letter O where the digit 0 belongs"),
        ("P030I", "it has the letter I where the digit 1 belongs"),
        ("P030l", "it has the letter L where the digit 1 belongs"),
        ("P4301", "its first digit is 4; P codes have 0 to 3"),
        ("PG301", "'G' behind P is no hex digit"),
        ("P030", "it has 3 characters behind P; expected 4"),
        ("BEEF", "it has 3 characters behind B; expected 4"),
        ("P03011", "its failure type '1' is unfinished; expected 2 hex digits behind P0301"),
        ("P0301-0", "its failure type '0' is unfinished; expected 2 hex digits behind P0301"),
        ("P0301-0Z", "its failure type '0Z' is not 2 hex digits"),
        ("P0301-", "behind P0301 stands '-' and no failure type"),
        ("P0301 ok", "its failure type 'OK' is not 2 hex digits"),
        ("DEAD", "DEAD is a word of hex digits only; write a maker's number of these digits with a zero in front"),
        ("FACADE", "FACADE is a word of hex digits only; write a maker's number of these digits with 0x in front"),
        ("2024", "2024 is most likely a year; write a maker's number of these digits with a zero in front"),
        ("X0301", "it starts with X; expected P, C, B or U"),
        ("\u04200301", "'\u0420' is CYRILLIC CAPITAL LETTER ER, not a Latin letter or a digit"),
        ("P\u0660301", "'\u0660' is ARABIC-INDIC DIGIT ZERO, not a Latin letter or a digit"),
        ("N/A", "'N/A' says that there is no code; a module that stored none has a blank code"),
        ("-", "'-' says that there is no code; a module that stored none has a blank code"),
        ("no faults", "'NO FAULTS' says that there is no code; a module that stored none has a blank code"),
        ("", "the cell is empty; a module that stored none has a blank code"),
        ("P0301,P0302", "it holds 2 codes (P0301, P0302); a row holds one"),
        ("P0079C1004P3000", "it holds 3 codes (P0079, C1004, P3000); a row holds one"),
        ("1E+05", "a spreadsheet turned it into a number (1E+05); export the column as text"),
        ("2E-03", "a spreadsheet turned it into a number (2E-03); export the column as text"),
        ("532.0", "a spreadsheet turned it into a number (532.0); export the column as text"),
        ("02-Mar", "a spreadsheet turned it into a date (02-MAR); export the column as text"),
        ("Dec-03", "a spreadsheet turned it into a date (DEC-03); export the column as text"),
        ("2003-12-01", "a spreadsheet turned it into a date (2003-12-01); export the column as text"),
        ("#NAME?", "'#NAME?' is an error of a spreadsheet, not a code"),
        ("532", "it has 3 digits; a maker's number has 4 to 6"),
        ("1234567", "it has 7 digits; a maker's number has 4 to 6"),
        (
            "0532-1",
            "it is no maker's number; expected 4 to 6 digits and at most one ending of 2 or 3 behind a hyphen",
        ),
        ("SPN 1103", "it names an SPN without its FMI; expected something like SPN 110 FMI 3"),
        ("SPN 600000 FMI 3", "SPN 600000 FMI 3 is out of range; the largest are 524287 and 31"),
        ("hello", "it is neither a code like P0301 nor a maker's number of 4 to 6 digits"),
    ],
)
def test_spellings_that_are_refused_say_what_is_wrong(text, why):
    read = read_code(text)
    assert (read.short, read.kind, read.why) == (None, "none", why)


@pytest.mark.parametrize(
    "text", ["P0000", "P0000-00", "U0000", "B0000", "C0000", "00000", "SPN 0 FMI 0", "SPN 524287 FMI 31"]
)
def test_padding_is_no_code_and_no_fault_of_the_file(text):
    # Zeros fill up what a module has no code for; SAE J1939-73 fills with ones too.
    read = read_code(text)
    assert (read.short, read.kind, read.why) == (None, "none", None)


def test_an_independent_table_of_generic_codes_holds_only_codes_of_the_standard():
    listed = pytest.importorskip("obd.codes", reason="the reference table of generic codes is not installed").DTC
    assert len(listed) > 2000
    for text in listed:
        # That table writes hex digits small in places.
        assert read_code(text).kind == "standard", text
        assert code_to_bytes(text.upper()) == code_to_bytes(read_code(text).short)


def test_every_shipped_generic_code_is_the_standards_own_and_listed_once():
    codes = [row["code"] for row in reference("generic_codes")]
    assert len(codes) == len(set(codes)) > 200
    assert {read_code(code).kind for code in codes} == {"standard"}


def test_every_shipped_generic_code_points_at_a_known_module():
    modules = {row["module"] for row in reference("modules")}
    pointed = {row["points_at"] for row in reference("generic_codes")}
    assert pointed <= modules | {""}
    assert {row["role_hint"] for row in reference("generic_codes")} == {"root", "knock-on", "either"}


@pytest.mark.slow
@given(st.text(max_size=12), st.sampled_from([None, "1A"]))
def test_any_text_is_read_or_refused_with_a_reason_and_never_changes_twice(text, failure_type):
    read = read_code(text, failure_type)
    if read.short is None:
        assert (read.kind, read.failure_type) == ("none", None)
    else:
        assert read.why is None
        assert read_code(read.short, read.failure_type) == dataclasses.replace(read, note=None)


@given(
    st.sampled_from("PCBU"), st.integers(0, 0x3FFF), st.sampled_from(["", " ", "-"]), st.sampled_from(["", "1a", "FF"])
)
def test_every_way_to_write_a_code_gives_the_same_code(letter, number, between, failure_type):
    short = f"{letter}{number:04X}"
    for behind in ("", " ", ":", "-", "/", "_") if failure_type else ("",):
        read = read_code(f" {letter.lower()}{between}{number:04x}{behind}{failure_type} ")
        if number:
            assert (read.short, read.failure_type) == (short, failure_type.upper() or None)
        else:
            assert (read.short, read.kind, read.why) == (None, "none", None)


def test_a_bare_number_belongs_to_its_make_and_never_becomes_a_standard_code():
    assert read_code("0301").short == "0301"
    assert read_code("0301").kind == "numeric"
    assert read_code("0301").scoped_by_make


# SAE J1939: suspect parameter numbers from 520192 are the maker's.
@pytest.mark.parametrize(("number", "scoped"), [(110, False), (520_191, False), (520_192, True), (521_898, True)])
def test_truck_numbers_are_the_makers_from_520192(number, scoped):
    assert read_code(f"SPN {number} FMI 10").scoped_by_make is scoped


def test_a_failure_type_of_its_own_column_stands_beside_the_code():
    assert read_code("P0301", "1a").failure_type == "1A"
    assert read_code("P0301-1A", "1A").note is None
    assert read_code("00532", "08").failure_type == "08"


def test_two_failure_types_that_disagree_are_noted():
    read = read_code("P0301-11", "12")
    assert read.failure_type == "11"
    assert read.note == "the text says failure type 11, its own column 12; 11 was kept"


def test_a_failure_type_that_is_none_refuses_the_code():
    assert read_code("P0301", "1").why == "its failure type '1' is not 2 hex digits"


# ISO 14229-1's bits: 0 failing, 1 failed this cycle, 2 pending, 3 confirmed, 4 not tested since clear, 5 failed since
# clear, 6 not tested this cycle, 7 lamp.
@pytest.mark.parametrize(
    ("text", "present", "tested", "word"),
    [
        ("09", True, True, "active"),
        ("2F", True, True, "active"),
        ("af", True, True, "active"),
        ("27", True, True, "active"),
        ("04", True, True, "pending"),
        ("02", True, True, "pending"),
        ("08", True, True, "history"),
        ("48", True, True, "history"),
        ("20", True, True, "history"),
        ("2C", True, True, "confirmed"),
        ("28", True, True, "confirmed"),
        ("0x08", True, True, "history"),
        ("50", False, False, "not tested"),
        ("10", False, False, "not tested"),
        ("40", False, False, "not tested"),
        ("00", False, True, ""),
        ("80", False, True, ""),
        ("Active", True, None, "active"),
        ("permanent", True, None, "permanent"),
        ("history", True, None, "history"),
        (" ", True, None, ""),
    ],
)
def test_what_a_status_says(text, present, tested, word):
    read = status_of(text)
    assert (read.present, read.tested, read.word) == (present, tested, word)


def test_an_independent_diagnostic_library_reads_the_status_bits_the_same():
    udsoncan = pytest.importorskip("udsoncan", reason="the reference decoder of status bytes is not installed")
    for byte in range(256):
        bits = udsoncan.Dtc.Status.from_byte(byte)
        failed = bits.test_failed or bits.test_failed_this_operation_cycle or bits.pending or bits.confirmed
        failed = failed or bits.test_failed_since_last_clear
        untested = bits.test_not_completed_since_last_clear or bits.test_not_completed_this_operation_cycle
        read = status_of(f"{byte:02X}")
        assert read.present is failed
        assert read.tested is (failed or not untested)
        assert (read.word == "active") is bits.test_failed


def test_a_status_that_is_none_is_refused():
    with pytest.raises(ValueError, match=re.escape("expected 2 hex digits or one of active, pending, confirmed,")):
        status_of("stored")


# The groups and sub-types are from memory of the public lists of SAE J2012-DA; 44, 87 and 92 were seen in use.
@pytest.mark.parametrize(
    ("byte", "meaning"),
    [
        ("11", "electrical: short to ground"),
        ("1f", "electrical: comes and goes"),
        ("44", "inside the control unit: data memory"),
        ("87", "data bus or message: message missing"),
        ("92", "component: works badly"),
        ("8A", "data bus or message"),
        ("01", "electrical"),
        ("08", "data bus or message"),
        ("F3", "defined by the maker"),
        ("00", None),
        ("0F", None),
        ("A0", None),
    ],
)
def test_what_a_failure_type_says(byte, meaning):
    assert failure_type_meaning(byte) == meaning


def test_a_failure_type_has_two_digits():
    with pytest.raises(ValueError, match="expected 2 hex digits; got '1'"):
        failure_type_meaning("1")


@pytest.mark.parametrize(
    ("text", "short", "kind", "text_behind"),
    [
        # 0x4045 by hand: 01 is C, 00 is 0, then 045.
        ("0x4045", "C0045", None, None),
        ("C0045 / 08", "C0045", "08", None),
        ("P0301 - 00", "P0301", "00", None),
        ("P0301 - Misfire cylinder 1", "P0301", None, "Misfire cylinder 1"),
        ("P0301 - 12 V supply low, see wiring", "P0301", None, "12 V supply low, see wiring"),
        ("P0301 – 1F – Misfire", "P0301", "1F", "Misfire"),
        ("SPN 110 FMI 3 - coolant", "SPN110/3", None, "coolant"),
    ],
)
def test_exports_write_more_than_the_code_into_its_cell(text, short, kind, text_behind):
    read = read_code(text)
    assert (read.short, read.failure_type, read.text, read.why) == (short, kind, text_behind, None)


def test_makers_numbers_are_compared_by_their_value():
    assert read_code("05123").value == read_code("5123").value == "5123"
    assert read_code("00532-010").value == "532-010"
    assert read_code("5123").value != read_code("51230").value
    assert read_code("P0301").value == "P0301"


def test_two_codes_with_words_between_them_are_still_two():
    assert read_code("P0300 to P0304 misfire").why == "it holds 2 codes (P0300, P0304); a row holds one"
