"""A job from the terminal: asked for or told, checked by the layout, written once and taken in by the next run."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from pipelines.commands.cli import main
from pipelines.commands.console import ask
from pipelines.errors import BatchError
from pipelines.report import job_entry
from pipelines.report.job_entry import Known
from pipelines.settings import Settings
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace
from tests.support.small_dealer import load, workspace

KNOWN = Known(["boost hose", "boost pressure solenoid", "Hose clamp"], ["Nordteile"], ["2026-11-23-1"])
ABOUT = {"vehicle": "K-1", "done_at": "2026-11-23"}


def read(path: Path) -> list[dict[str, str]]:
    """The written rows, blank cells left out."""
    with path.open(encoding="utf-8", newline="") as handle:
        return [{name: cell for name, cell in row.items() if cell} for row in csv.DictReader(handle)]


def answering(*answers: str) -> tuple[list[str], job_entry.Callable[[str, Sequence[str]], str]]:
    """A function that answers in order, and the list of what it was asked."""
    asked: list[str] = []
    left: Iterator[str] = iter(answers)

    def ask(question: str, _names: Sequence[str]) -> str:
        asked.append(question)
        return next(left)

    return asked, ask


@pytest.mark.parametrize(
    ("typed", "wanted"),
    [
        ("boost", ["boost hose", "boost pressure solenoid"]),
        ("hose", ["Hose clamp", "boost hose"]),
        ("BOOST HOSE", ["boost hose"]),
        ("relay", []),
        ("", []),
    ],
)
def test_names_that_begin_with_what_was_typed_are_offered_first(typed: str, wanted: list[str]):
    assert job_entry.offers(typed, KNOWN.parts) == wanted


def test_work_is_asked_for_and_a_number_takes_an_offered_name():
    said: list[str] = []
    asked, ask = answering(
        "weld", "replace", "boost", "2", "left", "nordteile", "42.50", "30", "", "erase", "drove well", ""
    )  # fmt: skip
    assert job_entry.ask_work(ask, said.append, KNOWN) == [
        {
            "action": "replace", "part": "boost pressure solenoid", "position": "left", "supplier": "Nordteile",
            "part_cost": "42.50", "labour_minutes": "30",
        },
        {"action": "erase", "note": "drove well"},
    ]  # fmt: skip
    assert said == ["'weld' is none of them.", "  1 boost hose", "  2 boost pressure solenoid"]
    assert "Number of the one that is meant; Enter keeps 'boost'" in asked


def test_a_new_name_is_kept_as_typed():
    _, ask = answering("clean", "boost", "", "", "", "", "", "", "")
    assert job_entry.ask_work(ask, lambda _: None, KNOWN) == [{"action": "clean", "part": "boost"}]


def test_work_in_words_and_what_is_wrong_with_them():
    assert job_entry.told_work(["replace; part=boost hose; part_cost=42.50", "erase"]) == [
        {"action": "replace", "part": "boost hose", "part_cost": "42.50"},
        {"action": "erase"},
    ]
    wanted = (
        r"--did 'replace; price=3': expected column=value with one of part, position, .*, found 'price=3'\. Nothing"
    )
    with pytest.raises(BatchError, match=wanted):
        job_entry.told_work(["replace; price=3"])


def test_a_job_is_written_once_in_the_layouts_columns(tmp_path: Path):
    place = workspace(tmp_path)
    path = job_entry.write_job(place, Settings(), ABOUT, [{"action": "erase"}, {"action": "inspect"}], KNOWN)
    again = job_entry.write_job(place, Settings(), ABOUT, [{"action": "erase"}], KNOWN)
    assert [path.name, again.name] == ["job-K-1-2026-11-23-2.csv", "job-K-1-2026-11-23-3.csv"], "1 is known already"
    assert read(path) == [ABOUT | {"job": "2026-11-23-2", "action": action} for action in ("erase", "inspect")]
    assert path.read_text(encoding="utf-8").splitlines()[0] == ",".join(job_entry.COLUMNS)
    twice = (place, Settings(), ABOUT | {"job": "J7"}, [{"action": "erase"}], KNOWN)
    job_entry.write_job(*twice)
    with pytest.raises(BatchError, match=r"job-K-1-J7\.csv is there already; give another --job\. Nothing was written"):
        job_entry.write_job(*twice)


def test_a_name_with_odd_letters_stays_inside_the_inbox(tmp_path: Path):
    place = workspace(tmp_path)
    about = {"vehicle": "../../K 1", "done_at": "2026-11-23", "job": "a/../b"}
    path = job_entry.write_job(place, Settings(), about, [{"action": "erase"}], Known())
    assert path.parent == place.inbox / "repairs"
    assert read(path)[0]["vehicle"] == "../../K 1"


@pytest.mark.parametrize(
    ("about", "rows", "message"),
    [
        ({}, [], "No piece of work was given, not even an erase"),
        ({}, [{"action": "replace"}], "piece of work 1, part: blank; part must be filled where action is replace"),
        ({"done_at": "23.11."}, [{"action": "erase"}], "piece of work 1, done_at: expected .*, found '23.11.'"),
        ({}, [{"action": "erase"}, {"action": "weld"}], "piece of work 2, action: expected .*, found 'weld'"),
        ({"odometer": "-3"}, [{"action": "erase"}], "piece of work 1, odometer: expected .*, found '-3'"),
    ],
)
def test_the_layout_judges_the_job_and_nothing_is_written(
    tmp_path: Path, about: dict[str, str], rows: list[job_entry.Row], message: str
):
    place = workspace(tmp_path)
    with pytest.raises(BatchError, match=message + r".*Nothing was written\.$"):
        job_entry.write_job(place, Settings(), ABOUT | about, rows, KNOWN)
    assert not list((tmp_path / "inbox" / "repairs").iterdir())


def test_the_command_writes_what_the_next_run_takes_in(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    place = workspace(tmp_path)
    words = ["log", "K-1", str(tmp_path), "--date", "2026-11-20", "--odometer", "81200"]
    assert main([*words, "--did", "replace; part=boost hose; part_cost=42.50", "--did", "erase"]) == 0
    assert "job-K-1-2026-11-20-1.csv" in capsys.readouterr().out
    with Warehouse(place.database) as warehouse:
        (file,) = load(place, warehouse).loaded
    assert (file.rows_loaded, file.rows_refused) == (2, 0)
    # The job is known now: the next one of that day gets another number, the part is offered.
    known = job_entry.known_names(Workspace.open(tmp_path), "K-1")
    assert known == Known(["boost hose"], [], ["2026-11-20-1"], [])
    assert main([*words, "--did", "erase"]) == 0
    assert "job-K-1-2026-11-20-2.csv" in capsys.readouterr().out


def test_the_command_asks_and_an_end_of_input_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    place = workspace(tmp_path)
    answers = iter(["81200", "erase", "", ""])
    monkeypatch.setattr("builtins.input", lambda _: next(answers))
    assert main(["log", "K-2", str(tmp_path), "--date", "2026-11-20", "--job", "J1"]) == 0
    assert read(place.inbox / "repairs" / "job-K-2-J1.csv") == [
        {"vehicle": "K-2", "job": "J1", "done_at": "2026-11-20", "odometer": "81200", "action": "erase"}
    ]

    def ended(_: str) -> str:
        raise EOFError

    monkeypatch.setattr("builtins.input", ended)
    assert main(["log", "K-3", str(tmp_path)]) == 1
    assert "The input ended before the job was complete. Nothing was written." in capsys.readouterr().err


def test_every_column_that_was_entered_is_read_back_as_it_was_entered(tmp_path: Path):
    place = workspace(tmp_path)
    about = {"vehicle": "K-1", "done_at": "2026-11-20T14:30", "odometer": "81200.5", "odometer_unit": "mi", "job": "J7"}
    work = {
        "action": "replace", "part": 'hose "long"; left, grün', "position": "front left", "supplier": "=Nordteile",
        "part_cost": "42.50", "labour_minutes": "35", "note": "two lines\nof a note",
    }  # fmt: skip
    path = job_entry.write_job(place, Settings(), about, [work, {"action": "erase"}], Known())
    columns = ", ".join(f'"{name}"' for name in job_entry.COLUMNS)
    with Warehouse(place.database) as warehouse:
        (file,) = load(place, warehouse).loaded
        rows = warehouse.query(f"select {columns} from raw.repairs order by action").to_dicts()
    assert (Path(file.name).name, file.rows_loaded, file.rows_refused) == (path.name, 2, 0)
    nothing = dict.fromkeys(job_entry.COLUMNS)
    # The layout's own way of writing: a time to the second; numbers and texts as they were typed.
    about["done_at"] = "2026-11-20 14:30:00"
    assert rows == [nothing | about | {"action": "erase"}, nothing | about | work | {"part_cost": "42.5"}]


def test_the_tabulator_key_completes_known_parts(monkeypatch: pytest.MonkeyPatch):
    readline = pytest.importorskip("readline", reason="this system has no readline")
    offered: list[str | None] = []

    def answered(_: str) -> str:
        offered.extend(readline.get_completer()("boost", place) for place in range(3))
        return "boost hose"

    monkeypatch.setattr("builtins.input", answered)
    assert ask("Part", KNOWN.parts) == "boost hose"
    assert offered == ["boost hose", "boost pressure solenoid", None]


def test_an_unknown_car_or_part_is_refused_with_what_is_near_it_and_new_means_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    place = workspace(
        tmp_path,
        stock=[{"vehicle": "K-1", "make": "Corvane", "model": "Alder"}],
        parts=[{"part": "battery", "part_cost": "90"}],
    )
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
    job = [str(tmp_path), "--date", "20.11.2026"]
    assert main(["log", "K-l", *job, "--did", "erase"]) == 1
    said = "K-l is in no stock list and no scan so far; near it: K-1. Give --new to mean it. Nothing was written."
    assert said in capsys.readouterr().err
    assert main(["log", "K-1", *job, "--did", "replace; part=batery"]) == 1
    said = "part: 'batery' is no part that is known; near it: battery. Give --new to mean it. Nothing was written."
    assert said in capsys.readouterr().err
    assert not list((tmp_path / "inbox" / "repairs").iterdir())
    assert main(["log", "K-1", *job, "--did", "replace; part=Battery; part_cost=42,50"]) == 0
    assert "K-1: Corvane Alder; open codes: none" in capsys.readouterr().out
    assert read(place.inbox / "repairs" / "job-K-1-2026-11-20-1.csv")[0] == {
        "vehicle": "K-1", "job": "2026-11-20-1", "done_at": "2026-11-20", "action": "replace", "part": "battery",
        "part_cost": "42.50",
    }  # fmt: skip
    assert main(["log", "K-l", *job, "--new", "--did", "replace; part=batery"]) == 0


@pytest.mark.parametrize(
    ("typed", "run", "unit", "wanted"),
    [
        ("119.672", 119660.0, "km", "119672"),
        ("119,672", 119660.0, "km", "119672"),
        ("74.400", 119660.0, "mi", "74400"),  # 119660 km are 74353 miles
        ("119.660", 119660.4, "km", "119660"),
        ("119.672", None, "km", None),
        ("119.672", 130000.0, "km", None),  # it would have run back
        ("74.300", 119660.0, "mi", None),
        ("119 672", 130000.0, "km", "119672"),  # can be meant in one way alone
    ],
)
def test_how_far_the_car_had_run_says_which_odometer_is_meant(
    typed: str, run: float | None, unit: str, wanted: str | None
):
    settings = Settings(odometer_unit=unit)
    if wanted is None:
        with pytest.raises(BatchError, match="can be meant in two ways"):
            job_entry.spelled_odometer(typed, Known(run=run), settings)
    else:
        assert job_entry.spelled_odometer(typed, Known(run=run), settings) == wanted


def test_a_plate_or_vehicle_number_means_the_car_of_the_stock_list_that_has_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    place = workspace(tmp_path)
    (place.root / "mappings").mkdir(exist_ok=True)
    (place.root / "mappings" / "yard.toml").write_text(
        'serves = ["yard*.csv"]\ntable = "stock"\nformat = "table"\ndelimiter = ","\n'
        '[columns]\nvehicle = "No"\nplate = "Plate"\nvin = "VIN"\nmake = "Make"\n'
        '[constants]\nmodel = "Alder"\n',
        encoding="utf-8",
    )
    (place.inbox / "stock" / "yard.csv").write_text(
        "No,Plate,VIN,Make\nY-1,GA 077 RE,YARDX000000000001,Corvane\nY-2,LN 149 WJ,,Corvane\n"
        "Y-3,TT 1,,Tesmar\nY-4,TT-1,,Tesmar\nGA077RF,XX 9,,Tesmar\nY-6,GA 077 RF,,Tesmar\n",
        encoding="utf-8",
    )
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
    known = job_entry.known_names(place, "ga077re")
    assert known.car == "Corvane Alder"
    for typed, meant in {
        "GA 077 RE": "Y-1", "ga-077-re": "Y-1", "yardx000000000001": "Y-1", "y-2": "Y-2", "LN149WJ": "Y-2",
        "TT 1": "TT 1", "GA077RF": "GA077RF", "GA 077 RF": "Y-6", "LN 149 JW": "LN 149 JW",
    }.items():  # fmt: skip
        assert known.car_meant(typed) == meant, typed
    job = [str(tmp_path), "--date", "2026-11-20", "--did", "erase"]
    assert main(["log", "LN 149 JW", *job]) == 1
    assert "near it: LN 149 WJ" in capsys.readouterr().err
    assert main(["log", "LN 149 WJ", *job]) == 0
    assert "LN 149 WJ is taken for Y-2: the stock list has it for that car." in capsys.readouterr().out
    [row] = read(place.inbox / "repairs" / "job-Y-2-2026-11-20-1.csv")
    assert row["vehicle"] == "Y-2"


def test_an_answer_is_checked_as_it_is_given_and_last_time_is_offered():
    known = Known(["battery"], ["Nordteile"], last={"battery": {"supplier": "Nordteile", "part_cost": "90"}})
    said: list[str] = []
    asked, ask = answering("replace", "batery", "1", "", "=", "dear", "90,50", "", "", "")
    rows = job_entry.ask_work(ask, said.append, known)
    assert rows == [{"action": "replace", "part": "battery", "supplier": "Nordteile", "part_cost": "90.50"}]
    assert "Part cost (= as last time: 90)" in asked
    assert said == ["  1 battery", "part_cost: expected a number with a decimal point from 0 to 1000000, found 'dear'."]


def test_a_day_that_may_be_a_month_is_asked_again():
    with pytest.raises(BatchError, match=r"'05/09/2026' can be meant in two ways; write it like 2026-11-23\."):
        job_entry.spelled("done_at", "05/09/2026", Settings())
    assert job_entry.spelled("done_at", "05/09/2026", Settings(date_order="day first")) == "2026-09-05"
    assert job_entry.spelled("done_at", "25.09.2026", Settings()) == "2026-09-25"


@pytest.mark.parametrize(
    ("column", "typed", "wanted"),
    [
        ("part_cost", "4 200", "4200"),
        ("part_cost", "4\N{NARROW NO-BREAK SPACE}200,50 €", "4200.50"),
        ("part_cost", "49,90 €", "49.90"),
        ("part_cost", "€ 4.200,00", "4200.00"),
        ("part_cost", "2500 EUR", "2500"),
        ("labour_minutes", "45 min", "45"),
        ("odometer", "84 500", "84500"),
    ],
)
def test_currency_unit_and_gaps_between_thousands_are_no_part_of_the_number(column: str, typed: str, wanted: str):
    assert job_entry.spelled(column, typed, Settings()) == wanted


@pytest.mark.parametrize("typed", ["49,90 $", "49 90", "4.200 €", "2 hours"])
def test_another_currency_or_a_number_in_pieces_is_refused(typed: str):
    with pytest.raises(BatchError):
        job_entry.spelled("part_cost", typed, Settings())
