"""``knockon why``: the reasoning of the last run on the terminal, and names near one that is not known."""

import hashlib
import math
import re
import shutil
from datetime import date

import polars as pl
import pytest

from analysis.diagnosis import list_cars
from pipelines.batch.last_week import open_last_week
from pipelines.batch.weekly import run_week
from pipelines.commands.cli import main
from pipelines.errors import WorkspaceError
from pipelines.report.outgoing import prepare
from pipelines.report.sections import list_section, what
from pipelines.settings import load_settings
from pipelines.storage.session import opened, reading
from pipelines.storage.undo import undo
from tests.support.small_dealer import workspace


@pytest.fixture(scope="module")
def dealer(tmp_path_factory):
    """Three repairs of one kind, a car in stock with that code, and one with a code that is looked past."""
    scans, repairs = [], []
    for k in range(1, 4):
        for day, code, km in ((f"2026-10-0{k}T09:00", "C0031", 1000), (f"2026-10-2{k}T09:00", "", 1500)):
            scans.append({"vehicle": f"old-{k}", "scanned_at": day, "module": "ABS", "code": code, "odometer": km})
        for work in ({"action": "replace", "part": "wheel speed sensor"}, {"action": "erase"}):
            repairs.append({"vehicle": f"old-{k}", "job": f"J{k}", "done_at": f"2026-10-1{k}", **work})
    scans += [
        {"vehicle": "K-1004", "scanned_at": "2026-11-20T09:00", "module": module, "code": code, "status": "active"}
        for module, code in (("ABS", "C0031"), ("ECM", "P0562"), ("BCM", "B1317"))
    ]
    scans.append({"vehicle": "K-1005", "scanned_at": "2026-11-20T09:00", "module": "BCM", "code": "B1317"})
    stock = [{"vehicle": f"old-{k}", "make": "Corvane", "model": "Alder", "sold_on": "2026-11-01"} for k in (1, 2, 3)]
    stock += [{"vehicle": f"K-100{k}", "make": "Corvane", "model": "Alder"} for k in (4, 5)]
    place = workspace(
        tmp_path_factory.mktemp("why") / "dealer",
        scans=scans,
        repairs=repairs,
        stock=stock,
        parts=[{"part": "wheel speed sensor", "part_cost": 40, "labour_minutes": 20}],
        background=[{"module": "BCM", "code": "B1317", "reason": "tow bar"}],
    )
    run_week(place, date(2026, 11, 23))
    return place


@pytest.fixture(scope="module")
def said(dealer) -> str:
    """What the command prints of the car with the sensor's code."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COLUMNS", "200")
        lines: list[str] = []
        patch.setattr("builtins.print", lambda *words, **_: lines.append(" ".join(map(str, words))))
        patch.setattr(
            "pipelines.commands.console._print_table",
            lambda head, rows, numbers: lines.extend(" | ".join(row) for row in [head, *rows]),
        )
        assert main(["why", "K-1004", str(dealer.root)]) == 0
    return "\n".join(lines)


def test_it_shows_codes_masks_and_unread_modules(said) -> None:
    assert said.startswith("K-1004, Corvane Alder, as the report of 2026-W48 saw it")
    assert "ABS:C0031 | " in said
    assert " | active | 2026-11-20 | tow bar" in said
    assert "Not read since the last erase, so nothing is known of them: none" in said


def test_it_shows_the_list_and_for_its_row_codes_jobs_and_what_if(said) -> None:
    assert "\n1 | replace wheel speed sensor | " in said
    loud = next(line.split(" | ") for line in said.splitlines() if line.startswith("for | ABS:C0031 | open | +"))
    assert int(loud[4].replace(",", "")) == pytest.approx(math.exp(float(loud[3])), rel=0.02), "whole from ten times on"
    assert "1. wheel speed sensor: own jobs with this part alone" in said
    jobs = [line for line in said.splitlines() if line.startswith("old-")]
    assert [line.split(" | ")[:4] for line in jobs] == [
        [f"old-{k}", f"J{k}", f"2026-10-1{k}", "cleared"] for k in (3, 2, 1)
    ]
    assert {line.split(" | ")[4] for line in jobs} == {"500"}, "from 1000 to 1500 km"
    moved = said.split("1. wheel speed sensor: if one code were absent")[1].splitlines()
    own = next(line for line in moved if line.startswith("ABS:C0031"))
    assert own.endswith(" | 0%")
    assert "\ncode | chance if tried first | without this code\n" in said
    handed = next(line for line in said.splitlines() if line.startswith("3 | hand over to a specialist"))
    assert handed.split(" | ")[2:4] == ["", ""], "his price is until it is fixed"


def test_a_car_with_masked_codes_only_has_no_line(dealer, capsys) -> None:
    before = hashlib.sha256(dealer.database.read_bytes()).hexdigest()
    assert main(["why", "K-1005", str(dealer.root)]) == 0
    assert "No line: no open code asks for a part." in capsys.readouterr().out
    assert hashlib.sha256(dealer.database.read_bytes()).hexdigest() == before, "nothing is written"


@pytest.mark.parametrize(
    ("name", "hint"),
    [("k1004", "near it: K-1004, K-1005"), ("zzz", "there are 2 vehicles in stock"), ("old-1", "there are 2 vehicles")],
)
def test_an_unknown_vehicle_is_an_error_with_near_names(dealer, capsys, name, hint) -> None:
    assert main(["why", name, str(dealer.root)]) == 1
    assert capsys.readouterr().err.startswith(f"knockon: '{name}' is no vehicle in stock in {dealer.root}; {hint}")


def test_before_the_first_run_it_says_what_to_run(tmp_path, capsys) -> None:
    place = workspace(tmp_path)
    assert main(["why", "K-1004", str(place.root)]) == 1
    assert "keeps no run yet; run 'knockon weekly" in capsys.readouterr().err


def test_a_copy_waits_for_no_other_run(dealer) -> None:
    with (
        dealer.lock(),
        pytest.raises(WorkspaceError, match=r"^another run is using .* Nothing was run\.$"),
        reading(dealer),
    ):
        pass


def test_a_row_is_said_in_words() -> None:
    assert what("replace", "battery", "") == "replace battery"
    assert what("specialist", "", "") == "hand over to a specialist"
    assert what("recheck", "", "") == "record, erase, drive, scan again"
    assert what("replace", "sensor", "left", "sensor right;loom") == "replace sensor, left, or else sensor right, loom"


def test_what_is_shown_is_the_list_of_the_report(dealer) -> None:
    with reading(dealer) as warehouse:
        last = open_last_week(dealer, load_settings(dealer.settings_file), warehouse)
    listed = pl.read_csv(dealer.reports / "2026-W48" / "shortlist.csv", infer_schema=False)
    kept = prepare("shortlist", last.shortlist).select(pl.all().cast(pl.String))
    assert kept.height == 3
    for name in ("vehicle", "rank", "part", "action", "clears"):
        assert kept[name].to_list() == listed[name].to_list()
    for name in ("chance", "expected_cost"):
        assert kept[name].cast(pl.Float64).to_list() == listed[name].cast(pl.Float64).to_list()


def test_the_model_is_the_one_that_the_list_was_made_with(dealer) -> None:
    with reading(dealer) as warehouse:
        last = open_last_week(dealer, load_settings(dealer.settings_file), warehouse)
    again = list_cars(last.model)
    assert again.rows.equals(last.shortlist)
    assert again.notes == last.tables["notes"]["note"].to_list()


def test_after_something_was_taken_back_it_says_what_to_run(dealer, tmp_path, capsys) -> None:
    place = type(dealer)(tmp_path / "copy")
    shutil.copytree(dealer.root, place.root)
    with opened(place) as warehouse:
        undo(place, load_settings(place.settings_file), warehouse, "parts.csv")
    assert main(["why", "K-1004", str(place.root)]) == 1
    assert re.match(rf"knockon: .*; run 'knockon weekly {place.root}' first\. Nothing", capsys.readouterr().err)


def test_a_line_that_is_checked_first_says_so() -> None:
    row = {
        "rank": 1, "action": "replace", "part": "battery", "position": "", "or_else": "", "chance": 0.5,
        "chance_low": 0.2, "chance_high": 0.8, "total_cost": 9000.0, "clears": "ECM:P0562", "jobs": 0,
        "jobs_cleared": 0,
        "check_first": "Checking first is cheaper: about 8 minutes; buy it only once it is proven faulty.",
    }  # fmt: skip
    rows = pl.DataFrame([row, row | {"rank": 2, "check_first": "Measure it."}])
    assert [cells[1] for cells in list_section(rows, "EUR").rows] == ["check, then replace battery", "replace battery"]


def test_the_command_needs_a_vehicle_and_shows_an_example(capsys) -> None:
    assert main(["why"]) == 2
    assert "Missing argument" in capsys.readouterr().err
    assert main(["why", "--help"]) == 0
    assert capsys.readouterr().out.strip().splitlines()[-1] == "  Example: knockon why K-1004 my-dealer"
