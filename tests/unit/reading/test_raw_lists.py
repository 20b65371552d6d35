"""What an answer's list could have named: its service, its sub-function, its mask, its bus and its padding."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.read_table import read_table

HEAD = "vehicle: A1\nscanned_at: 2026-11-20T09:00\nlink: can\n"
FULL = "active;stored;pending;history"


@pytest.fixture
def read(tmp_path):
    def of(text, *columns):
        path = tmp_path / "scan.hex"
        path.write_text(HEAD + text, encoding="utf-8")
        reading = read_table(path, LAYOUTS["scans"], ZoneInfo("Europe/Berlin"))
        return reading if not columns else reading.rows.select(*columns).rows()

    return of


@pytest.mark.parametrize(
    ("answer", "asked"),
    [
        ("7E8 43 00", "stored"),
        ("7E8 47 00", "pending"),
        ("7E8 4A 00", "permanent"),
        ("7E8 59 02 FF", FULL),
        ("7E8 59 0A FF", FULL),
        ("7E8 59 15 FF", "permanent"),
        # Bits that the module does not have let nothing through: without bit 3 no stored code can be named.
        ("7E8 59 02 04", "pending"),
        ("DM1 SA 0 00 FF 00 00 00 00 FF FF", "active"),
        ("DM2 SA 0 00 FF 00 00 00 00 FF FF", "history"),
        ("DM6 SA 0 00 FF 00 00 00 00 FF FF", "pending"),
        ("DM28 SA 0 00 FF 00 00 00 00 FF FF", "permanent"),
    ],
)
def test_an_empty_list_says_which_kinds_of_codes_it_lacks(read, answer, asked):
    assert read(answer, "code", "asked", "complete") == [(None, asked, None)]


# ISO 14229-1: 19 02 lists a code where its status and the mask of the request have a bit in common.
@pytest.mark.parametrize(
    ("request_line", "asked"),
    [
        ("7E0 19 02 FF", FULL),
        ("7E0 19 02 08", "active;stored;history"),
        ("7E0 19 02 04", "pending"),
        ("7E0 19 02 01", "active"),
        ("7DF 19 02 04", "pending"),
        ("can0 7E0#03190204", "pending"),
        ("can0 18DB33F1#03190204", "pending"),
        # Another module's request, and another report's.
        ("7E1 19 02 04\n7E9 59 02 FF", FULL),
        ("7E0 19 0A\n7E0 22 04 08", FULL),
    ],
)
def test_a_request_with_a_status_mask_restricts_the_answer_behind_it(read, request_line, asked):
    bus = "can0 7E8#035902FF" if "can0" in request_line else "7E8 59 02 FF"
    rows = [row for row in read(f"{request_line}\n{bus}", "module", "asked") if row[0] == "7E8"]
    assert rows == [("7E8", asked)]


def test_a_mask_that_lets_no_fault_through_leaves_the_list_without_a_say(read):
    reading = read("7E0 19 02 40\n7E8 59 02 FF 03 01 00 40\n7E9 59 02 FF")
    assert reading.rows.select("module", "code", "asked", "complete").rows() == [
        ("7E8", "P0301", None, "false"),
        ("7E9", None, FULL, None),
    ]


@pytest.mark.parametrize("filling", ["00", "FF", "AA", "55", "CC"])
@pytest.mark.parametrize("times", [1, 3, 4, 5])
def test_padding_behind_a_list_is_no_code(read, filling, times):
    assert read(f"7E8 59 02 FF{filling * times}", "code") == [(None,)]
    assert read(f"7E8 59 02 FF 03 01 00 2F {filling * times}", "code", "status") == [("P0301", "2F")]


def test_the_stored_list_does_not_speak_for_the_pending_one(read):
    rows = read("7E8 47 01 03 01\n7E8 43 00", "code", "status", "asked", "complete")
    assert rows == [("P0301", "pending", "pending", None), (None, None, "stored", None)]


def test_a_damaged_answer_leaves_every_list_of_its_module_incomplete(read):
    rows = read("7E8 43 01 03 01\n7E8 47 02 03 01\n7E9 43 00", "module", "code", "complete")
    assert rows == [("7E8", "P0301", "false"), ("7E9", None, None)]


def test_two_buses_are_never_joined_to_an_answer_that_neither_sent(read):
    # The same identifier on both: the second frame of one must not finish the first one of the other.
    reading = read("can0 7E8#100A430403010302\ncan1 7E8#100A430404200430\ncan0 7E8#2103030304\ncan1 7E8#2104400450")
    assert reading.rows.select("module", "code").rows() == [
        *(("7E8 (can0)", code) for code in ("P0301", "P0302", "P0303", "P0304")),
        *(("7E8 (can1)", code) for code in ("P0420", "P0430", "P0440", "P0450")),
    ]
    crossed = read("can0 7E8#100A430403010302\ncan1 7E8#2104400450")
    assert crossed.rows.is_empty()
    assert crossed.rejects.height == 2


def test_fault_messages_of_several_packets_are_put_together(read):
    # SAE J1939-21: announced to all (20), then packets of seven bytes; 2 lamps and 3 codes of 4 bytes are 14.
    packets = ["can0 18ECFF00#200E0002FFCAFE00", "can0 18EBFF00#0104FF6E0003059D", "can0 18EBFF00#02000701AAF6EA05"]
    rows = [("SA 0", "SPN110/3", "active"), ("SA 0", "SPN157/7", "active"), ("SA 0", "SPN521898/10", "active")]
    assert read("\n".join(packets), "module", "code", "asked") == rows
    # To one who agrees (10, 11 and 13 are the handshake), with the packets of another source in between.
    to_one = ["can0 18ECF900#100E0002FFCAFE00", "can0 18EC00F9#110201FFFFCAFE00", "can0 18EBF901#01FFFFFFFFFFFFFF"]
    to_one += [packet.replace("EBFF00", "EBF900") for packet in packets[1:]] + ["can0 18EC00F9#130E0002FFCAFE00"]
    assert read("\n".join(to_one), "module", "code", "asked") == rows
    lost = read("\n".join([packets[0], packets[2], "can0 7E8#024300"]))
    assert lost.rejects["why"].to_list() == [
        "expected 14 bytes; found 0, then line 5 has packet 2 where 1 belongs: a packet is missing"
    ]
    assert lost.rows["module"].to_list() == ["7E8"]


def test_frames_of_can_fd_are_read(read):
    # ISO 15765-2: above 8 bytes a single frame's length has a byte of its own; a first frame holds up to 62 bytes.
    assert read("can0 7E8##1000B5902FF0301002F042000080000", "code") == [("P0301",), ("P0420",)]
    assert read("can0 7E8 [12] 00 07 59 02 FF 03 01 00 2F CC CC CC", "code") == [("P0301",)]
    first = "10175902FF" + "0301002F" * 1 + "0420002F" + "0430002F"
    assert read(f"can0 7E8##1{first}\ncan0 7E8##1210440002F0450002F", "code") == [
        (code,) for code in ("P0301", "P0420", "P0430", "P0440", "P0450")
    ]


# ISO 14229-1 as open decoders lay it out: severity and unit in front, memory or group before the mask.
@pytest.mark.parametrize(
    ("answer", "codes", "name"),
    [
        ("59 08 FF 20 10 03 01 00 2F", [("P0301", "2F")], "codes by severity"),
        ("59 09 FF 20 10 03 01 00 2F", [("P0301", "2F")], "severity of one code"),
        ("59 17 01 FF 03 01 00 2F", [("P0301", "2F")], "codes of a user memory"),
        ("59 42 33 FF 1E 04 20 03 01 00 2F", [("P0301", "2F")], "emission codes by severity"),
        ("59 0B FF 03 01 00 2F", [("P0301", "2F")], "first failed code"),
        ("59 03 03 01 00 01", [], "list of snapshot records"),
        ("59 14 03 01 00 7F", [], "fault counters"),
        ("59 01 FF 00 00 00", [], "count only"),
        ("59 07 FF 00 00 00", [], "count only, by severity"),
    ],
)
def test_other_reports_are_read_or_named_and_never_an_empty_list(read, answer, codes, name):
    reading = read(f"7E8 {answer}")
    assert reading.rows.select("code", "status").rows() == codes
    assert set(reading.rows["complete"]) <= {"false"}
    assert any(f"({name})" in note for note in reading.notes)


def test_permanent_emission_codes_name_their_own_kind(read):
    assert read("7E8 59 55 33 FF 04 03 01 00 2F", "code", "status", "asked") == [("P0301", "permanent", "permanent")]


# ISO 14230-3, from memory: count, then two bytes of code and a status whose bits 5 and 6 tell how it is stored.
@pytest.mark.parametrize(
    ("answers", "rows"),
    [
        ("7E8 58 02 03 01 60 04 20 20", [("P0301", "active", FULL), ("P0420", "history", FULL)]),
        ("7E8 58 02 03 01 40 04 20 00", [("P0301", "pending", FULL)]),
        ("7E8 58 00 AA AA", [(None, None, FULL)]),
        ("7E0 18 00 FF 00\n7E8 58 00", [(None, None, FULL)]),
        ("7E0 18 02 40 00\n7E8 58 01 03 01 60", [("P0301", "active", None)]),
        ("7E0 18 01 FF 00\n7E8 58 01 03 01 00", []),
    ],
)
def test_the_list_by_status_of_older_modules_is_read(read, answers, rows):
    assert read(answers, "code", "status", "asked") == rows


def test_a_list_of_older_modules_that_is_cut_is_refused(read):
    reading = read("7E8 58 02 03 01 60")
    assert reading.rejects["why"].to_list() == ["expected 6 bytes for the 2 codes that are counted; found 3"]
    assert reading.rows.is_empty()
