"""Raw answers against published bytes, worked examples of the standards, and every kind of damage."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.vocabulary.codes import read_code
from pipelines.errors import InputFileError
from pipelines.reading.diagnostics.responses import looks_like_responses
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.read_table import Reading, guess_layout, read_table

HEAD = "vehicle: A1\nscanned_at: 2026-11-20T09:00\n"
CAN = HEAD + "link: can\n"
OLDER = HEAD + "link: older\n"
ZONE = ZoneInfo("Europe/Berlin")


@pytest.fixture
def read(tmp_path):
    def of(text: str, name: str = "scan.hex") -> Reading:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return read_table(path, LAYOUTS["scans"], ZONE)

    return of


def cells(reading: Reading, *columns: str) -> list[tuple]:
    return reading.rows.select(*columns).rows()


def whys(reading: Reading) -> list[tuple]:
    return reading.rejects.select("row", "why").rows()


def kinds(reading: Reading) -> list[str]:
    return [f"{code}-{kind}" for code, kind in cells(reading, "code", "failure_type")]


# The bytes of these three stand in the open test suites of scapy (uds.uts) and udsoncan.
PUBLISHED_LISTS = [
    (
        "5902ff11071127023212270107112701181227011312270122112706430027065300271631002714031227",
        "P1107-11,P0232-12,P0107-11,P0118-12,P0113-12,P0122-11,P0643-00,P0653-00,P1631-00,P1403-12",
        ["27"] * 10,
    ),
    ("5902fb1234562012345760", "P1234-56,P1234-57", ["20", "60"]),
    ("5902FF", "None-None", [None]),
]


@pytest.mark.parametrize(("sent", "codes", "statuses"), PUBLISHED_LISTS)
def test_published_lists_of_codes_by_status(read, sent, codes, statuses):
    reading = read(HEAD + f"7E8 {sent}")
    assert ",".join(kinds(reading)) == codes
    assert reading.rows["status"].to_list() == statuses
    assert not whys(reading)


# scapy's obd.uts carries the worked example of ISO 15031-5; the two without a count are python-OBD's.
@pytest.mark.parametrize(
    ("text", "codes"),
    [
        (CAN + "7E8 430601430196023402cd03570a24", ["P0143", "P0196", "P0234", "P02CD", "P0357", "P0A24"]),
        (CAN + "7E8 43 03 03 01 40 31 C1 21", ["P0301", "C0031", "U0121"]),
        (OLDER + "engine: 43 010480034123", ["P0104", "B0003", "C0123"]),
        (OLDER + "engine: 43 000001040000", ["P0104"]),
        (CAN + "7E8 43 01 03 01 00 00 00", ["P0301"]),
        (OLDER + "7E8 43 01 03 01 00 00 00", ["P0103", "P0100"]),
        (CAN + "7E8 43 02 00 00 FF FF", [None]),
        (CAN + "7E8 43 00 AA AA", [None]),
        (OLDER + "7E8 43 00 00 00 00 00 00", [None]),
    ],
)
def test_lists_of_emission_codes_need_to_know_their_link(read, text, codes):
    reading = read(text)
    assert reading.rows["code"].to_list() == codes
    assert not whys(reading)


def test_stored_pending_and_permanent_codes_keep_apart(read):
    reading = read(CAN + "7E8 43 01 03 01\n7E8 47 01 03 01\n7E8 4A 01 03 01")
    assert cells(reading, "code", "status") == [("P0301", "confirmed"), ("P0301", "pending"), ("P0301", "permanent")]


def test_without_a_declared_link_an_emission_list_is_refused(read):
    reading = read(HEAD + "7E8 43 01 03 01\n7E9 59 02 FF")
    wanted = "expected 'link: can' or 'link: older' in the heading: only on CAN does a byte count the codes behind 43"
    assert whys(reading) == [(3, wanted)]
    assert cells(reading, "module", "code") == [("7E9", None)]


@pytest.mark.parametrize(
    ("answer", "rows"),
    [
        # 59 0A lists what could be set. Failing; not tested; tested and fine; nothing told.
        ("59 0A FF 03 01 00 09 03 02 00 50 03 03 00 00", [("P0301", "09"), ("P0302", "50")]),
        ("59 02 FF 03 03 00 00", [("P0303", "00")]),
        # The mask comes first: bit 3 is not the module's, so 09 says 01; 08 says nothing.
        ("59 02 77 03 01 00 09 03 02 00 08", [("P0301", "01"), ("P0302", "00")]),
        # This one cannot say that a test has not run, so a status without a failure is no news.
        ("59 02 2F 03 01 00 2F 03 02 00 50", [("P0301", "2F")]),
        ("59 02 00 03 01 00 2F", [("P0301", None)]),
        ("59 02 FF 00 00 00 00 FF FF FF FF 00 00 11 08", [(None, None)]),
        ("59 15 FF 03 01 00 2F", [("P0301", "permanent")]),
        ("59 0B FF 03 01 00 2F", [("P0301", "2F")]),
        ("59 0E FF", []),
        ("59 0A 00 03 01 00 2F", []),
    ],
)
def test_status_bytes_count_behind_their_mask(read, answer, rows):
    reading = read(HEAD + f"7E8 {answer}")
    assert cells(reading, "code", "status") == rows
    assert not whys(reading)


@pytest.mark.parametrize(
    ("form", "codes"),
    [("00", ["C0031-15"]), ("04", ["C0031-15"]), ("01", ["0x403115-None"]), ("02", ["SPN12608/21-None"])],
)
def test_the_third_byte_is_a_failure_type_only_in_the_formats_that_have_one(read, form, codes):
    assert kinds(read(HEAD + f"format: {form}\n7E8 59 02 FF 40 31 15 09")) == codes


def test_makers_hex_keeps_its_digits_and_is_never_half_of_a_code():
    for sent in ("0xC03515", "0X403115", "0x00110F"):
        assert (read_code(sent).short, read_code(sent).kind) == (sent[2:], "numeric")
    assert read_code("0x000000").kind == "none"
    assert read_code("C03515").why == "its failure type '5' is unfinished; expected 2 hex digits behind C0351"


def test_a_modules_own_count_answer_tells_its_format_but_the_heading_rules(read):
    answers = "7E8 59 01 FF 01 00 01\n7E8 59 02 FF 40 31 15 09"
    assert kinds(read(HEAD + answers)) == ["0x403115-None"]
    declared = read(HEAD + "format: 00\n" + answers)
    assert kinds(declared) == ["C0031-15"]
    assert "7E8 names code format 01; the heading's 00 was kept" in declared.notes


# The first two payloads are worked by hand by SAE J1939-73; the third is a public unit test's.
@pytest.mark.parametrize(
    ("line", "rows"),
    [
        ("DM1 SA 11: 04 FF 6E 00 03 05", [("SA 11", "SPN110/3", "active", "5")]),
        ("DM1 SA 11 04FF AAF6EA05", [("SA 11", "SPN521898/10", "active", "5")]),
        ("DM1 18FECA0B 42fd9d000701ffff", [("18FECA0B", "SPN157/7", "active", "1")]),
        ("DM1 brakes: 42fd9d000701ffff", [("brakes", "SPN157/7", "active", "1")]),
        ("DM1 SA 0 00 FF 00 00 00 00 FF FF", [("SA 0", None, None, None)]),
        ("DM2 SA 0 00 FF 9D 00 07 7F", [("SA 0", "SPN157/7", "history", None)]),
        ("DM2 SA 0 00 FF FF FF FF FF", [("SA 0", None, None, None)]),
    ],
)
def test_fault_messages_of_trucks(read, line, rows):
    reading = read(HEAD + line)
    assert cells(reading, "module", "code", "status", "occurrences") == rows


def test_a_number_in_an_older_order_is_refused_and_leaves_the_list_incomplete(read):
    reading = read(HEAD + "DM1 SA 0 04 FF 6E 00 03 85 9D 00 07 01")
    assert cells(reading, "code", "complete") == [("SPN157/7", "false")]
    assert whys(reading) == [
        (
            3,
            "expected a number in the standard's order; 6E 00 03 85 is marked as another order (conversion method 1)",
        )
    ]


# 8307FF00 and 00790303 are python-OBD's, 0007E5A4 has three monitors open; the counters are J1979's worked examples.
@pytest.mark.parametrize(
    ("answers", "facts", "note"),
    [
        ("7E8 41 01 83 07 FF 00", (None, None, "true"), None),
        ("7E8 41 01 00 79 03 03", (None, None, "false"), None),
        ("7E8 41 01 00 07 E5 A4", (None, None, "false"), None),
        ("7E8 41 01 00 00 00 00", (None, None, None), None),
        ("7E8 41 31 01 23 30 05", ("291", "5", None), None),
        ("7E8 41 31 01 23\n7E9 41 31 00 10", ("16", None, None), None),
        ("7E8 41 01 83 07 FF 00\n7E9 41 01 00 07 E5 A4", (None, None, "false"), None),
        ("7E8 41 21 01 2C", (None, None, None), "7E8 300 km driven with the warning lamp on"),
        ("7E8 41 4E 00 F0 00", (None, None, None), "7E8 240 minutes run since the codes were erased"),
        ("7E8 41 0C 0B B8", (None, None, None), "7E8 answer 41 0C was left: the parameter is not read here"),
    ],
)
def test_what_the_car_says_of_the_last_erase_stands_in_every_row_of_the_scan(read, answers, facts, note):
    reading = read(CAN + "7EA 43 00\n" + answers)
    assert cells(reading, "module", "km_since_erase", "warmups_since_erase", "monitors_ready") == [("7EA", *facts)]
    assert note is None or note in reading.notes


def test_a_no_is_not_read_and_a_wait_is_nothing(read):
    reading = read(CAN + "7E8 7F 19 78\n7E8 59 02 FF\n7E9 7F 03 78\n7E9 7F 03 22\n7EA silent\n7E8 7F 0A 11")
    assert cells(reading, "module", "module_state", "code") == [
        ("7E8", None, None),
        ("7E9", "silent", None),
        ("7EA", "silent", None),
    ]
    assert "7E9 said no to service 03: 22, conditions not correct" in reading.notes
    assert "7EA was not read: it said no or nothing" in reading.notes


def test_reports_that_are_no_list_of_faults_are_named_and_say_that_no_code_is_absent(read):
    # The bytes are those of udsoncan's and scapy's tests; each names its code and its status before its data.
    reading = read(HEAD + "7E8 59041234562402014711a666075020\n7E8 5906480a46af010002070328\n7EA 5901fb000000\n7E9 54")
    assert cells(reading, "code", "failure_type", "status", "complete") == [
        ("P1234", "56", "24", "false"),
        ("C080A", "46", "AF", "false"),
    ]
    assert reading.notes[:3] == [
        "7E8 answer 59 04 (snapshot record of one code) is no whole list of faults",
        "7E8 answer 59 06 (extended data record of one code) is no whole list of faults",
        "7EA answer 59 01 (count only) was left: it is no list of faults that is read here",
    ]
    assert "7EA did not answer with a list of its codes: nothing is known of them" in reading.notes
    assert "7E9 answered that codes were erased; write it down as a job" in reading.notes


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("7E8 59", "expected the kind of report behind 59; found nothing"),
        ("7E8 59 02", "expected an availability mask behind 59 02; found nothing"),
        ("7E8 59 02 FF 11 07 11", "expected 4 bytes a code; 3 bytes leave 3 over"),
        ("7E8 43", "expected a count byte behind 43; found nothing"),
        ("7E8 43 03 03 01", "expected 6 bytes for the 3 codes that are counted; found 2"),
        (
            "7E8 43 01 03 01 40 31",
            "expected 2 bytes for the 1 codes that are counted; found 4 that are no mere filling",
        ),
        ("7E8 41", "expected a parameter behind 41; found nothing"),
        ("7E8 41 31 01", "expected 2 bytes behind parameter 31; found 1"),
        ("7E8 7F 19", "expected 3 bytes in an answer that begins with 7F; found 2"),
        ("7E8 19 02 FF", "expected an answer, whose first byte is 41 or more; found 19, a request"),
        ("DM1 SA 0 04 FF", "expected 2 bytes of lamps and 4 a code in DM1; found 2 bytes"),
        ("DM1 SA 0 04 FF 6E 00 03 05 9D", "expected 2 bytes of lamps and 4 a code in DM1; 7 bytes leave 1 over"),
        ("7E8 43 0", "expected bytes of two hex digits each, or the word silent; found '43 0'"),
        ("7E8 43\xa000", "expected bytes of two hex digits each, or the word silent; found '43\\xa000'"),
        ("7E8 4 3 00", "expected bytes of two hex digits each, or the word silent; found '4 3 00'"),
        (": 43 00", "expected a heading, an answer like '7E8 43 01 03 01', or a frame of a CAN log"),
        ("DM1  : 43 00", "expected an address or a module's name in front of the colon; found nothing"),
        ("43 00", "expected a heading, an answer like '7E8 43 01 03 01', or a frame of a CAN log"),
        ("7E8 " + "00" * 20000, "expected a line of at most 20000 characters; found a longer one"),
    ],
)
def test_a_damaged_answer_is_refused_with_its_line_and_says_nothing_of_its_module(read, line, why):
    reading = read(CAN + line + "\n7EB 43 01 03 01")
    assert whys(reading) == [(4, why)]
    assert cells(reading, "module", "code") == [("7EB", "P0301")]
    assert reading.rows_read == 2


def test_an_odd_list_on_an_older_link_is_refused(read):
    assert whys(read(OLDER + "7E8 43 01 03 01")) == [
        (4, "expected 2 bytes a code on a link without a count byte; found 3 bytes")
    ]


def test_a_module_with_a_good_and_a_damaged_list_is_marked_incomplete(read):
    reading = read(CAN + "7E8 43 03 03 01\n7E8 47 01 03 02")
    assert cells(reading, "code", "status", "asked", "complete") == [("P0302", "pending", "pending", "false")]


def test_several_scans_share_nothing_but_the_file(read):
    second = (
        "# the other car\nvin: ZZZCV1ALD00000001\nscanned_at: 2026-11-20T10:00Z\nodometer: 84500.0\nodometer_unit: MI\n"
    )
    reading = read(CAN + "7E8 43 01 03 01 # one\n\n" + second + "ABS: 59 02 FF\n7E8 43 00")
    columns = ("row", "vehicle", "vin", "scanned_at", "odometer", "odometer_unit", "module", "code")
    assert cells(reading, *columns) == [
        (4, "A1", None, "2026-11-20 09:00:00", None, None, "7E8", "P0301"),
        (11, None, "ZZZCV1ALD00000001", "2026-11-20 11:00:00", "84500", "mi", "ABS", None),
    ]
    assert [row for row, _ in whys(reading)] == [12]


@pytest.mark.parametrize(
    ("heading", "rejects"),
    [
        (
            "vehicle: A1\nscanned_at: 20/11/26\n",
            [(2, "scanned_at", "20/11/26", "expected a date and time like 2026-11-23 09:15")],
        ),
        ("vehicle: A1\n", [(1, "scanned_at", "", "blank; it must be filled")]),
        ("scanned_at: 2026-11-20\n", [(1, "vehicle", "", "blank; vehicle or vin must be filled")]),
        (
            HEAD + "odometer: far\n",
            [(3, "odometer", "far", "expected a number with a decimal point from 0 to 10000000")],
        ),
        (HEAD + "link: bus\n", [(3, "link", "bus", "expected one of can, older")]),
        (HEAD + "format: 05\n", [(3, "format", "05", "expected one of 00, 01, 02, 03, 04")]),
    ],
)
def test_a_scan_whose_heading_is_wrong_is_left_out_and_the_next_one_is_read(read, heading, rejects):
    reading = read(heading + "7E8 59 02 FF\n" + HEAD + "7E9 59 02 FF")
    left = "; the answers of this scan (1) were left out"
    assert reading.rejects.rows() == [(row, column, value, why + left) for row, column, value, why in rejects]
    assert cells(reading, "module") == [("7E9",)]


@pytest.mark.parametrize("step", [37, pytest.param(1, marks=pytest.mark.slow)])
def test_every_two_byte_code_comes_through_as_the_vocabulary_spells_it(read, step):
    # All 65,536 but the two fillings, in lists of 255; the text is spelled here from the bits of one number.
    numbers = range(1, 65_535, step)
    lists = [numbers[start : start + 255] for start in range(0, len(numbers), 255)]
    lines = [f"7E8 43 {len(part):02X} {''.join(f'{number:04X}' for number in part)}" for part in lists]
    bits = (f"{number:016b}" for number in numbers)
    spelled = ["PCBU"[int(text[:2], 2)] + str(int(text[2:4], 2)) + f"{int(text[4:], 2):03X}" for text in bits]
    assert read(CAN + "\n".join(lines)).rows["code"].to_list() == spelled


LOG = """\
(1700000000.123) can0 7DF#0103000000000000
(1700000000.223) can0 7E8#100E430601430196
(1700000000.224) can0 7E0#3000000000000000
(1700000000.225) can0 7E8#21023402CD03570A
(1700000000.226) can0 7E8#2224000000000000
 can0  7E9   [8]  02 43 00 55 55 55 55 55
 can0  3E9   [2]  01 02
 can0  18FECA0B   [8]  04 FF 6E 00 03 05 FF FF
(1700000000.300) can0 18DAF110#035902FFAAAAAAAA R
"""


def test_a_can_log_is_put_together_again(read):
    reading = read(HEAD + LOG)
    assert cells(reading, "module", "code") == [
        *(("7E8", code) for code in ("P0143", "P0196", "P0234", "P02CD", "P0357", "P0A24")),
        ("7E9", None),
        ("SA 11", "SPN110/3"),
        ("18DAF110", None),
    ]
    assert not whys(reading)
    assert reading.notes == ["frames of the log that belong to no answer were passed over (3 times)"]


LOST = "expected 14 bytes; found {}, then {}: a frame is missing"
FIRST, SECOND, THIRD = "can0 7E8#100E430601430196", "can0 7E8#21023402CD03570A", "can0 7E8#2224000000000000"


@pytest.mark.parametrize(
    ("frames", "rejects"),
    [
        ([FIRST, THIRD, SECOND], [(3, LOST.format(6, "line 4 has frame 2 where 1 belongs"))]),
        ([FIRST, SECOND], [(3, LOST.format(13, "the log ends"))]),
        ([FIRST, FIRST, SECOND, THIRD], [(3, LOST.format(6, "a new answer begins"))]),
        ([SECOND, THIRD], [(3, "expected a first frame; found frame 1 of an answer")]),
        (["can0 7E8#0943"], [(3, "expected a single frame of 1 to 1 bytes; it says 9")]),
        (["can0 7E8#1002430601430196"],
         [(3, "expected a first frame of 8 bytes that tells a length of 8 or more; found 10 02 43 06 01 43 01 96")]),
        (["can0 7E8#43"], [(3, "expected a frame kind from 0 to 3; found 43")]),
        (["can0 7E8##1024z"], [(3, "expected up to 64 bytes of two hex digits behind #; found '024z'")]),
        (["can0 7E8 [8] 02 43"],
         [(3, "expected 8 bytes, at most 8 or as many as CAN FD can have, as the frame says; found 2")]),
        (["can0 18ECFF00#20130003FFCAFE00"],
         [(3, "expected 19 bytes; found 0, then the log ends: a packet is missing")]),
    ],
)  # fmt: skip
def test_a_broken_log_spoils_one_answer_and_names_it(read, frames, rejects):
    reading = read(HEAD + "\n".join([*frames, "can0 7E9#024300"]))
    assert whys(reading) == rejects
    good = 6 if frames.count(FIRST) == 2 else 0
    assert reading.rows.height == good + 1
    assert cells(reading, "module", "code")[-1] == ("7E9", None)


def test_a_long_answer_counts_its_frames_round_sixteen(read):
    payload = "43 7F" + "".join(f"{0x0100 + number:04X}" for number in range(127))
    sent = bytes.fromhex(payload)
    frames = [f"can0 7E8#{0x1000 | len(sent):04X}{sent[:6].hex()}"]
    rest = [sent[start : start + 7] for start in range(6, len(sent), 7)]
    frames += [f"can0 7E8#2{(number + 1) % 16:X}{part.hex()}" for number, part in enumerate(rest)]
    reading = read(HEAD + "\n".join(frames))
    assert reading.rows["code"].to_list() == [f"P01{number:02X}" for number in range(127)]


@pytest.mark.parametrize(
    ("text", "looks"),
    [
        (CAN + "7E8 43 00", True),
        (HEAD + LOG, True),
        ("(1700000000.223) can0 7E8#100E4306014", True),
        (HEAD + "7E8 43 00\n7E8 4", True),
        (HEAD, False),
        ("", False),
        ("Scan of 20 November\nEngine\n  P0301 misfire\nAddress: 43 00\n", False),
        ("vehicle,scanned_at,module\nA1,2026-11-20,ECM\n", False),
    ],
)
def test_raw_answers_are_known_by_their_lines(tmp_path, text, looks):
    assert looks_like_responses(text.encode()) is looks
    path = tmp_path / "some.log"
    path.write_text(text, encoding="utf-8")
    assert (guess_layout(path) == "scans") is looks


@pytest.mark.parametrize(
    ("name", "table", "message"),
    [
        ("a.txt", "scans", "a.txt: found text that is no list of raw answers; expected lines like '7E8 43 01 03 01'. "
                           "The file was not loaded."),
        ("a.hex", "stock", "a.hex: found a file of raw answers for stock; expected one for scans. "
                           "The file was not loaded."),
    ],
)  # fmt: skip
def test_other_texts_are_refused_as_a_whole(tmp_path, name, table, message):
    path = tmp_path / name
    path.write_text("Dear dealer,\nthe car is fine.\n", encoding="utf-8")
    with pytest.raises(InputFileError) as raised:
        read_table(path, LAYOUTS[table], ZONE)
    assert str(raised.value).replace(f"{tmp_path}/", "") == message


def test_a_file_of_headings_alone_is_refused(tmp_path):
    path = tmp_path / "a.hex"
    path.write_text(HEAD, encoding="utf-8")
    with pytest.raises(InputFileError, match=r"a\.hex: found no answer; expected lines like"):
        read_table(path, LAYOUTS["scans"], ZONE)


PIECES = st.sampled_from(
    [
        "vehicle:",
        "A1",
        "\n",
        " ",
        "7E8",
        "can0",
        "#",
        "[8]",
        "DM1",
        "SA 3",
        ":",
        "43",
        "59 02 FF",
        "7F",
        "10",
        "21",
        "\xa0",
        "\x85",
        "0",
    ]
)


@pytest.mark.slow
@given(st.lists(PIECES, max_size=40))
def test_whatever_stands_in_a_file_is_taken_or_refused_with_its_line(tmp_path_factory, pieces):
    path = tmp_path_factory.getbasetemp() / "any.hex"
    path.write_text(HEAD + "".join(pieces), encoding="utf-8")
    try:
        reading = read_table(path, LAYOUTS["scans"], ZONE)
    except InputFileError:
        return
    lines = len(path.read_text(encoding="utf-8").split("\n"))
    assert all(1 <= row <= lines and why for row, why in whys(reading))
    assert reading.rows["row"].is_between(1, lines).all()
