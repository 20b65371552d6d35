"""``knockon share``: nothing that names a car, a person or a file goes out, and the reckoning finds the same."""

import csv
import hashlib
from datetime import date, datetime
from pathlib import Path

import polars as pl
import pytest

from pipelines.batch.weekly import run_week
from pipelines.commands.cli import main
from pipelines.errors import WorkspaceError
from pipelines.reading.layouts import LAYOUTS
from pipelines.sharing.column_policies import POLICIES
from pipelines.sharing.pseudonyms import Pseudonyms
from pipelines.sharing.share import share
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace
from tests.support.small_dealer import workspace

AS_OF = date(2026, 11, 23)
KEY = bytes(range(32))
VIN = "1M8GDM9AXKP042788"
SUPPLIER, NOTE = "Hendrik & Daughters", "customer Olga rang twice"


def give_key(place: Workspace) -> Pseudonyms:
    """Put a known key into the workspace, so that the other names are the same in every run of the tests."""
    place.state.mkdir(exist_ok=True)
    path = place.state / "share.key"
    path.touch(mode=0o600)
    path.write_bytes(KEY)
    return Pseudonyms(KEY)


def rows_of(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / "inbox" / name / f"{name}.csv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


@pytest.fixture(scope="module")
def dealer(tmp_path_factory) -> Workspace:
    """A dealer whose people wrote names wherever there was room."""
    scans = [
        {"vehicle": "K-1004", "vin": VIN, "scanned_at": "2026-10-01T09:00", "module": "ABS", "code": "C0031",
         "text": f"Sensor circuit {VIN} (K-1004)"},
        {"vin": VIN, "scanned_at": "2026-10-20T09:00", "module": "K-1004 box", "code": "seen by Olga"},
        {"vin": "1G4AH59H45G118341", "scanned_at": "2026-10-20T09:00", "module": "ABS", "code": "C0031"},
        {"vehicle": "K-1005", "scanned_at": "2026-10-21T09:00", "module": "ABS", "code": "C0031", "text": "=cmd(1)"},
    ]  # fmt: skip
    repairs = [
        {"vehicle": "K-1004", "job": "INV-77812", "done_at": "2026-10-10", "action": "replace",
         "part": "sensor for K-1004", "supplier": SUPPLIER, "note": NOTE, "part_cost": 40},
        {"vehicle": "K-1004", "job": "INV-77812", "done_at": "2026-10-10", "action": "erase"},
        {"vehicle": "K-1005", "job": "INV-77812", "done_at": "2026-10-11T10:30", "action": "erase"},
    ]  # fmt: skip
    stock = [
        {"vehicle": "K-1004", "vin": VIN, "make": "Corvane", "model": "Alder", "model_year": 2019, "asking_price": 7350,
         "modifications": "tow bar by Hendrik; Olga's seat"},
        {"vehicle": "K-1005", "make": "Corvane", "model": "Alder", "sold_on": "2026-11-01"},
    ]  # fmt: skip
    place = workspace(
        tmp_path_factory.mktemp("share") / "dealer",
        scans=scans,
        repairs=repairs,
        stock=stock,
        parts=[{"part": "alternator", "also_called": f"generator ({SUPPLIER})", "supplier": SUPPLIER}],
        background=[{"vehicle": "K-1004", "module": "ABS", "reason": NOTE, "until": "2026-12-31"}],
    )
    for path in list(place.inbox.rglob("*.csv")):
        path.rename(path.with_name(f"Olga's {path.name}"))
    run_week(place, AS_OF)
    give_key(place)
    return place


def test_every_column_of_every_layout_has_been_decided_on() -> None:
    assert {name: [column.name for column in layout.columns] for name, layout in LAYOUTS.items()} == {
        name: list(policies) for name, policies in POLICIES.items()
    }


def test_nothing_that_names_a_car_a_person_or_a_file_goes_out(dealer, tmp_path) -> None:
    share(dealer, tmp_path / "out")
    files = [path for path in (tmp_path / "out").rglob("*") if path.is_file()]
    assert len(files) == len(LAYOUTS) + 4
    text = "\n".join([path.relative_to(tmp_path).as_posix() + path.read_text(encoding="utf-8") for path in files])
    for name in ("K-1004", "K-1005", "K1004", VIN, "1G4AH59H45G118341", "INV-77812", "Hendrik", "Olga", "7350", "2019"):
        assert name.casefold() not in text.casefold(), name
    assert KEY.hex() not in text
    assert KEY not in b"".join(path.read_bytes() for path in files)
    assert str(dealer.root) not in text


def test_rows_are_whole_and_joined_by_the_other_names(dealer, tmp_path) -> None:
    names = Pseudonyms(KEY)
    done = share(dealer, tmp_path / "out")
    first, second = names.name("V", "K-1004"), names.name("V", "K-1005")
    scans = rows_of(done.folder, "scans")
    assert sorted((row["vehicle"], row["module"], row["code"], row["text"]) for row in scans) == sorted(
        [
            (first, "ABS", "C0031", "Sensor circuit … (…)"),
            (first, f"… box {names.name('N', 'K-1004 box')[:8]}", "unreadable", ""),
            (second, "ABS", "C0031", "cmd(1)"),
        ]
    ), "the car known by its vehicle number alone has its row, the unknown one has none"
    repairs = rows_of(done.folder, "repairs")
    assert {(row["vehicle"], row["job"]) for row in repairs} == {
        (first, names.name("J", "K-1004", "INV-77812")),
        (second, names.name("J", "K-1005", "INV-77812")),
    }
    assert [row["supplier"] for row in repairs if row["supplier"]] == [names.name("S", SUPPLIER)]
    assert [row["part"] for row in repairs if row["part"]] == [
        f"sensor for … {names.name('N', 'sensor for K-1004')[:8]}"
    ]
    assert {row["modifications"] for row in rows_of(done.folder, "stock")} == {"tow bar", ""}
    assert rows_of(done.folder, "background")[0]["reason"] == "left alone"
    assert done.rows == {"scans": 3, "stock": 2, "repairs": 3, "parts": 1, "background": 1}


@pytest.mark.slow
def test_the_same_key_gives_the_same_set_and_a_new_one_another(dealer, tmp_path) -> None:
    first = share(dealer, tmp_path / "one")
    again = share(dealer, tmp_path / "one")
    assert (first.mark, rows_of(first.folder, "repairs")) == (again.mark, rows_of(again.folder, "repairs"))
    other = share(dealer, tmp_path / "two", new_key=True)
    give_key(dealer)
    assert other.mark != first.mark
    cars = [{row["vehicle"] for row in rows_of(done.folder, "stock")} for done in (first, other)]
    assert not cars[0] & cars[1]


def test_shifted_days_keep_what_lies_between_them(dealer, tmp_path) -> None:
    plain, moved = share(dealer, tmp_path / "plain"), share(dealer, tmp_path / "moved", shift_dates=True)
    weeks = {Pseudonyms(KEY).name("V", car): Pseudonyms(KEY).weeks_back(car) for car in ("K-1004", "K-1005")}
    assert len(set(weeks.values())) == 2
    for name, column in (
        ("scans", "scanned_at"),
        ("repairs", "done_at"),
        ("stock", "sold_on"),
        ("background", "until"),
    ):
        before, after = rows_of(plain.folder, name), rows_of(moved.folder, name)
        assert len(before) == len(after)
        for old, new in zip(before, after, strict=True):
            assert len(old[column]) == len(new[column]), "a day stays a day, a time a time"
            if old[column]:
                days = datetime.fromisoformat(old[column]) - datetime.fromisoformat(new[column])
                assert days.days == 7 * weeks[old["vehicle"]]
                assert days.seconds == 0


def test_a_folder_with_something_else_in_it_is_left_alone(dealer, tmp_path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("dear Olga")
    with pytest.raises(WorkspaceError, match=r"mine holds something else; name a new or empty folder with --out\."):
        share(dealer, tmp_path / "mine")
    assert (tmp_path / "mine" / "letter.txt").read_text() == "dear Olga"
    assert not list(tmp_path.glob(".*.new"))


def test_the_command_says_what_it_wrote_and_what_to_look_through(dealer, capsys) -> None:
    before = hashlib.sha256(dealer.database.read_bytes()).hexdigest()
    assert main(["share", str(dealer.root)]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "3 rows of scans"
    assert said[-2] == f"wrote {dealer.root / 'shared' / '2026-W48'}; key mark {Pseudonyms(KEY).mark}"
    assert said[-1].endswith(" free wordings) before you pass it on")
    assert hashlib.sha256(dealer.database.read_bytes()).hexdigest() == before


def test_before_the_first_run_there_is_nothing_to_share(tmp_path, capsys) -> None:
    assert main(["share", str(workspace(tmp_path).root)]) == 1
    assert "keeps no run yet; run 'knockon weekly" in capsys.readouterr().err


@pytest.mark.slow
def test_the_shared_demo_gives_the_same_families_rules_and_list(demo_week, tmp_path_factory) -> None:
    """With this key.  Resamples draw cars by their order, so under another key a family at the limit could differ."""
    place, folder = Workspace.open(demo_week), tmp_path_factory.mktemp("shared") / "out"
    names = give_key(place)
    with Warehouse(place.database) as warehouse:
        texts = [
            *warehouse.query("select distinct vehicle as name from raw.stock")["name"],
            *warehouse.query("select distinct vin as name from raw.scans where vin is not null")["name"],
            *warehouse.query("select distinct job as name from raw.repairs")["name"],
            *warehouse.query("select distinct supplier as name from raw.repairs where supplier is not null")["name"],
            *(name for name in warehouse.query("select name from raw.files where layout = 'scans'")["name"]),
        ]
    share(place, folder)
    written = "\n".join(path.name + path.read_text(encoding="utf-8") for path in folder.rglob("*") if path.is_file())
    assert len(texts) > 500
    assert [text for text in texts if text in written] == []

    run_week(Workspace.open(folder), AS_OF)
    for table in ("rules", "families", "shortlist", "family_cars", "backtest"):
        before, after = (
            pl.read_csv(root / "reports" / "2026-W48" / f"{table}.csv", infer_schema=False)
            for root in (place.root, folder)
        )
        if "vehicle" in before.columns:
            cars = before["vehicle"].unique().to_list()
            before = before.with_columns(pl.col("vehicle").replace_strict(cars, [names.name("V", car) for car in cars]))
        if table == "shortlist":
            # Days are shifted car by car, and what lately failed counts more: a later step that hardly pays may go.
            assert abs(before.height - after.height) <= 2
            before, after = (rows.filter(pl.col("rank") == "1") for rows in (before, after))
            moved = ["chance", "chance_low", "chance_high", "expected_cost"]
            was, now = (rows.sort("vehicle", "rank").select(pl.col(moved).cast(float)) for rows in (before, after))
            assert now.to_numpy() == pytest.approx(was.to_numpy(), rel=0.05, abs=0.05, nan_ok=True)
            before, after = before.drop(moved), after.drop(moved)
        assert before.height
        assert before.sort(before.columns).equals(after.sort(after.columns)), table


def test_a_new_folder_may_be_the_one_that_the_user_stands_in(dealer, tmp_path, monkeypatch) -> None:
    (tmp_path / "out").mkdir()
    monkeypatch.chdir(tmp_path / "out")
    assert share(dealer, Path()).folder == tmp_path / "out"
    assert rows_of(tmp_path / "out", "scans")


@pytest.mark.slow
def test_a_list_that_was_not_read_whole_is_none_in_the_shared_set_either(tmp_path) -> None:
    # A row of the later scan is refused for its status: here and there the earlier code is not known to be gone.
    scan = {"vehicle": "K-1", "scanned_at": "2026-03-01T09:00", "odometer": 50000, "module": "ECM", "code": "P0301"}
    late = scan | {"scanned_at": "2026-03-09T09:00", "odometer": 51000}
    job = {"vehicle": "K-1", "job": "J1", "done_at": "2026-03-02T10:00", "odometer": 50000}
    place = workspace(
        tmp_path / "dealer",
        scans=[scan, late | {"code": "P0420"}, late | {"code": "P0301", "status": "zz"}],
        repairs=[job | {"action": "replace", "part": "ignition coil"}, job | {"action": "erase"}],
        stock=[{"vehicle": "K-1", "make": "Corvane", "model": "Alder"}],
    )
    run_week(place, AS_OF)
    share(place, tmp_path / "out")
    codes = [row["code"] for row in rows_of(tmp_path / "out", "scans")]
    shared = Workspace.open(tmp_path / "out")
    run_week(shared, AS_OF)
    assert sorted(codes) == ["P0301", "P0420", "unreadable"]
    for root in (place, shared):
        with Warehouse(root.database) as warehouse:
            assert warehouse.query("select outcome from marts.outcomes")["outcome"].to_list() == ["unproven"]
