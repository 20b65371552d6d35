"""Lists of repairs as a dealer keeps them: which table they are, what was done in free words, work in money."""

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from pipelines.errors import SettingsError
from pipelines.ingest.mapping_draft import draft_of
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.mapping.free_work import work_within
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_mapped

HEADER = "When;Car;What was done;Part;Part price;Labour\n"
DAYS = (
    "16.01.26;LN 412 KA;wheel sensor front left new, ABS light out;wheel speed sensor FL;62,90;70\n"
    "15.04.26;LN 733 PB;replaced wheel speed sensor left front;wheel speed sensor FL;62,90;70\n"
    "28.04.26;LN 733 PB;valet and polish;;;90\n"
)


def drafted(folder: Path, text: str, answers: dict[str, str] | None = None) -> Draft:
    (folder / "repairs.csv").write_text(text, encoding="utf-8")
    return draft_of(folder / "repairs.csv", answers or {}, None)


def read(folder: Path, draft: Draft) -> Reading:
    assert [asked.key for asked in draft.open] == []
    (folder / "drafted.toml").write_text(draft.toml(), encoding="utf-8")
    return read_mapped(folder / "repairs.csv", load_mapping(folder / "drafted.toml"), ZoneInfo("UTC"))


@pytest.mark.parametrize("more", ["", "05.11.26;HR 551 XG;cat cleaned, P0420 still there;cleaner;24,00;60\n"])
def test_days_cars_and_parts_are_a_list_of_repairs(tmp_path, more):
    # A price book names no car and no day, and a scan has a column of codes.
    draft = drafted(tmp_path, HEADER + DAYS + more)
    assert draft.table == "repairs"
    assert drafted(tmp_path, HEADER + DAYS.split("\n", maxsplit=1)[0] + "\n").table == "repairs"


def test_a_column_of_codes_stays_a_list_of_scans(tmp_path):
    text = "When;Car;What;Part;Faults\n" + "".join(
        f"1{at}.01.26;LN 412 KA;checked;engine;{code}\n" for at, code in enumerate(["P0301", "no faults", "no faults"])
    )
    assert drafted(tmp_path, text).table == "scans"


@pytest.mark.parametrize("counts", ["70;85", "70;85,50"])
def test_a_bare_labour_beside_prices_is_asked_about(tmp_path, counts):
    one, other = counts.split(";")
    text = (
        "Date;Car;Work;Part;Part price;Labour\n"
        f"16.01.2026;LN 412 KA;replaced;coil;62,90;{one}\n15.04.2026;LN 733 PB;replaced;pump;48,50;{other}\n"
    )
    draft = drafted(tmp_path, text)
    assert [(asked.key, asked.choices) for asked in draft.open] == [("labour", ("minutes", "hours", "money"))]
    assert [asked.key for asked in drafted(tmp_path, text, {"labour": "money"}).open] == ["labour_rate"]
    # At 30 an hour, an amount is twice as many minutes.
    amount = float(other.replace(",", "."))
    money = read(tmp_path, drafted(tmp_path, text, {"labour": "money", "labour_rate": "30"}))
    assert [*map(float, money.rows["labour_minutes"])] == [140.0, 2 * amount]
    minutes = read(tmp_path, drafted(tmp_path, text, {"labour": "minutes"}))
    assert [*map(float, minutes.rows["labour_minutes"])] == [70.0, amount]


def test_a_sign_of_money_decides_what_labour_counts(tmp_path):
    text = (
        "Date;Car;Work;Part;Labour\n16.01.2026;LN 412 KA;replaced;coil;70 €\n15.04.2026;LN 733 PB;replaced;pump;85 €\n"
    )
    asked = next(asked for asked in drafted(tmp_path, text).questions if asked.key == "labour")
    assert asked.proposal == "money"


@pytest.mark.parametrize(
    ("text", "action", "part"),
    [
        ("misfire cyl 1 - coil replaced", "replace", "coil"),
        ("new battery", "replace", "battery"),
        ("replaced wheel speed sensor rear left", "replace", "wheel speed sensor rear left"),
        ("hybrid battery fan cleaned", "clean", "hybrid battery fan"),
        ("exhaust rear box welded", "repair", "exhaust rear box"),
        ("earth strap soldered, was loose", "repair", "earth strap"),
        ("battery dead; terminals cleaned", "clean", "terminals"),
        ("Zündspule Zylinder 1 erneuert", "replace", "Zündspule Zylinder 1"),
        ("fan cleaned, then fan swapped", "replace", "fan"),
        ("steering angle sensor adjusted", "adjust", "steering angle sensor"),
        ("battery tested, weak, not done yet", "inspect", "battery"),
        ("coil should be replaced", "inspect", "coil"),
        ("fault codes erased", "erase", "fault codes"),
        ("valet and polish", None, ""),
        ("front brake pads", None, ""),
        ("check engine light on", None, ""),
    ],
)
def test_usual_words_inside_a_text_say_what_was_done(text, action, part):
    assert work_within(text) == (action, part)


FREE = HEADER.replace("Labour", "Labour min") + (
    "16.01.26;LN 412 KA;wheel sensor front left new, ABS light out;wheel speed sensor FL;62,90;70\n"
    "20.02.26;LN 918 VD;front brake pads;pads front;54,00;60\n"
    "28.04.26;LN 733 PB;valet and polish;;;90\n"
    "21.07.26;HR 492 BM;exhaust rear box welded;;;55\n"
    "30.09.26;LN 276 CL;gearbox oil;ATF 6 l;84,00;80\n"
    "05.10.26;LN 276 CL;codes erased;;;5\n"
)


@pytest.mark.parametrize(
    ("rest", "pads"), [("replace", ["replace"]), ("inspect", ["inspect"]), ("left out", list[str]())]
)
def test_one_question_is_asked_for_all_lines_that_say_no_work(tmp_path, rest, pads):
    assert [asked.key for asked in drafted(tmp_path, FREE).open] == ["other_work"]
    found = read(tmp_path, drafted(tmp_path, FREE, {"other_work": rest}))
    assert found.rows.select("row", "action", "part").rows() == [
        (2, "replace", "wheel speed sensor FL"),
        *((3, action, "pads front") for action in pads),
        (5, "repair", "exhaust rear box"),
        *((6, action, "ATF 6 l") for action in pads),
        (7, "erase", None),
    ]
    # What is left out is counted among the rows, each with its place.
    assert found.rejects.select("row", "column", "value").rows() == [
        *([] if pads else [(3, "action", "front brake pads")]),
        (4, "action", "valet and polish"),
        *([] if pads else [(6, "action", "gearbox oil")]),
    ]
    assert found.rows_read == 6
    assert all("left out" in why for why in found.rejects["why"])


def test_lines_without_part_and_work_block_nothing(tmp_path):
    works = enumerate(["new battery", "valet", "a good wash", "fan cleaned"])
    lines = (f"1{at}.01.26;LN 412 KA;{what};;;30" for at, what in works)
    text = HEADER.replace("Labour", "Labour min") + "\n".join(lines)
    found = read(tmp_path, drafted(tmp_path, text))
    assert found.rows.select("action", "part").rows() == [("replace", "battery"), ("clean", "fan")]


BARE = (
    "Day;Plate;Work done;How it went\n02.03.2026;LN 412 KA;Battery 70Ah;good\n"
    "03.03.2026;LN 733 PB;only erased;came back\n"
    "04.03.2026;LN 733 PB;Gear selector switch;good\n05.03.2026;LN 918 VD;deleted codes;came back\n"
    "06.03.2026;LN 918 VD;Batery 70Ah;still there\n07.03.2026;HR 492 BM;Camera plug (windscreen);good\n"
    "08.03.2026;HR 492 BM;cleared memory;came back\n09.03.2026;HR 551 XG;steering angle sensor;good\n"
    "10.03.2026;HR 551 XG;gear selector switch;good\n"
)


def test_bare_parts_under_work_done_are_asked_about_once(tmp_path):
    draft = drafted(tmp_path, BARE)
    asked = next(asked for asked in draft.questions if asked.key == "other_work")
    assert (asked.proposal, asked.hangs) == ("replace", True)
    assert not any(one.key.startswith("values.action") for one in draft.questions)
    found = read(tmp_path, draft)
    assert found.rejects.rows() == []
    assert found.rows.select("action", "part").rows() == [
        ("replace", "Battery 70Ah"),
        ("erase", None),
        ("replace", "Gear selector switch"),
        ("erase", None),
        ("replace", "Batery 70Ah"),
        ("replace", "Camera plug (windscreen)"),
        ("erase", None),
        ("replace", "steering angle sensor"),
        ("replace", "gear selector switch"),
    ]
    assert found.rows["note"].to_list()[:2] == ["good", "came back"]
    out = read(tmp_path, drafted(tmp_path, BARE, {"other_work": "left out"}))
    assert (out.rows.height, out.rejects.height, out.rows_read) == (3, 6, 9)


def test_one_question_gives_each_job_its_erase(tmp_path):
    asked = next(asked for asked in drafted(tmp_path, BARE).questions if asked.key == "erased.after")
    assert (asked.proposal, asked.hangs) == ("not told", True)
    assert "'How it went'" in asked.why
    found = read(tmp_path, drafted(tmp_path, BARE, {"erased.after": "each job"}))
    erases = found.rows.filter(found.rows["action"] == "erase")
    assert erases["job"].n_unique() == erases.height == found.rows["job"].n_unique() == 9
    plain = read(tmp_path, drafted(tmp_path, BARE, {"erased.after": "not told"}))
    assert plain.rows.filter(plain.rows["action"] == "erase").height == 3


def test_a_list_that_says_erased_beside_a_repair_is_not_asked(tmp_path):
    text = BARE + "10.03.2026;HR 551 XG;erased;\n"
    assert not any(asked.key == "erased.after" for asked in drafted(tmp_path, text).questions)


def test_erases_after_each_job_and_a_column_that_says_so_exclude_each_other(tmp_path):
    draft = drafted(tmp_path, BARE, {"erased.after": "each job"})
    text = draft.toml().replace("[erased]", '[erased]\ncolumn = "How it went"\nyes = ["good"]')
    (tmp_path / "drafted.toml").write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError, match=r"erased\.after"):
        load_mapping(tmp_path / "drafted.toml")


def test_a_column_whose_cells_say_what_was_done_is_no_number_of_a_job(tmp_path):
    # "Job type" holds the word for a job's number; all rows of a day would be one job called "replaced".
    text = "Plate,Date,Job type,Item,Spent on part\n"
    text += 'LN 412 KA,21/09/2026,replaced,coil,"62.50"\nLN 733 PB,21/09/2026,repaired,fan,"9.00"\n'
    text += 'LN 733 PB,22/09/2026,codes erased,,""\n'
    proposals = {asked.key: asked.proposal for asked in drafted(tmp_path, text).questions}
    assert proposals["columns.action"] == "Job type"
    assert proposals["columns.job"] == '["Plate", "Date"]'
    assert (proposals["columns.part"], proposals["columns.part_cost"]) == ("Item", "Spent on part")
