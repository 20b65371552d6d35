"""What a run had learned comes back bit by bit, from a database that was closed in between; damage is told in words."""

from __future__ import annotations

from datetime import date, datetime

import numpy as np
import polars as pl
import pytest

from pipelines.errors import WorkspaceError
from pipelines.storage.model_store import KEPT, ModelStore, StoredRun
from pipelines.storage.restore import restore
from pipelines.storage.session import opened, reading
from pipelines.storage.snapshots import write_snapshot
from pipelines.storage.sql_models import shipped_models
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace
from tests.support.keepers import dealer, put, run, scans, taken, undone
from tests.support.small_dealer import PARAMS, build

ARRAYS = {
    "link": np.array([[0.1, np.nan], [np.inf, -0.0]]),
    "single": np.array([1 / 3], dtype=np.float32),
    "counts": np.array([2**62, -1]),
    "network": np.array([True, False]),
    "codes": np.array(["ECM:P0301", "BCM:B1317@corvane", "ä"]),
    "calibration": np.array(0.25),
    "none": np.empty((0, 3)),
    "file": np.arange(3),
}
TABLES = {
    "families": pl.DataFrame(
        {
            "family": ["F1", "F2", "F3"],
            "codes": [["ECM:P0301", "ECM:P0302"], [], None],
            "strength": [1 / 3, float("nan"), float("inf")],
            "vehicles": [2**62, None, 0],
            "first_seen": [datetime(2026, 3, 1, 9, 0, 0, 1), None, datetime(1, 1, 1)],
            "day": [date(2026, 3, 1), None, date(9999, 12, 31)],
            "unknown": [None, None, None],
        }
    ),
    "family_cars": pl.DataFrame(schema={"family": pl.String, "codes": pl.List(pl.String)}),
    "nothing": pl.DataFrame(),
}


def learned(week: str = "2026-W48", **more: object) -> StoredRun:
    about = {"as_of": date(2026, 11, 23), "made_at": datetime(2026, 11, 23, 7, 30), "version": "0.1.0"}
    return StoredRun(**({"week": week, "fitted": {}, "tables": {}} | about | more))


def save(place: Workspace, *runs: StoredRun) -> None:
    with opened(place) as warehouse:
        for one in runs:
            ModelStore(warehouse).save(one)


def latest_week(place: Workspace) -> str | None:
    with reading(place) as warehouse:
        kept = ModelStore(warehouse).latest()
    return kept.week if kept else None


def test_arrays_and_tables_come_back_exactly(tmp_path):
    place = dealer(tmp_path)
    save(place, learned(fitted=ARRAYS, tables=TABLES))
    with reading(place) as warehouse:
        back = ModelStore(warehouse).latest()
    assert (back.week, back.as_of, back.made_at, back.version) == (
        "2026-W48",
        date(2026, 11, 23),
        datetime(2026, 11, 23, 7, 30),
        "0.1.0",
    )
    assert back.fitted.keys() == ARRAYS.keys()
    for name, array in ARRAYS.items():
        assert (back.fitted[name].dtype, back.fitted[name].shape) == (array.dtype, array.shape)
        assert back.fitted[name].tobytes() == array.tobytes(), name
    assert back.tables.keys() == TABLES.keys()
    for name, table in TABLES.items():
        assert back.tables[name].schema == table.schema
        assert back.tables[name].equals(table), name


def test_objects_are_refused_and_nothing_is_kept(tmp_path):
    place = dealer(tmp_path)
    with opened(place) as warehouse, pytest.raises(ValueError, match="Object arrays cannot be saved"):
        ModelStore(warehouse).save(learned(fitted={"any": np.array([{}, None], dtype=object)}))
    assert latest_week(place) is None


def test_a_run_is_kept_whole_or_not_at_all(tmp_path, monkeypatch):
    place = dealer(tmp_path)
    save(place, learned("2026-W47"))
    plain = Warehouse.execute

    def failing(warehouse: Warehouse, text: str, *params: object) -> None:
        if text.startswith("insert into fitted.marts_of"):
            raise OSError("cut off")
        plain(warehouse, text, *params)

    monkeypatch.setattr(Warehouse, "execute", failing)
    with pytest.raises(WorkspaceError, match="cut off"):
        save(place, learned("2026-W48", fitted=ARRAYS))
    monkeypatch.undo()
    with reading(place) as warehouse:
        assert ModelStore(warehouse).current().week == "2026-W47"
        assert warehouse.number("select count(*) from fitted.contents") == 1


def test_the_latest_runs_are_kept_by_the_order_in_which_they_were_saved(tmp_path):
    place = dealer(tmp_path)
    # The clock plays no part: the last one is for an earlier week.
    weeks = [*(f"2026-W{week:02d}" for week in range(20, 20 + KEPT)), "2026-W03"]
    save(place, *(learned(week, tables={"rules": pl.DataFrame({"week": [week]})}) for week in weeks))
    with reading(place) as warehouse:
        assert warehouse.query("select week from fitted.runs order by number")["week"].to_list() == weeks[1:]
        assert warehouse.number("select count(distinct run) from fitted.contents") == KEPT
        assert ModelStore(warehouse).latest().tables["rules"]["week"].to_list() == ["2026-W03"]


def test_the_first_lines_of_earlier_lists_come_with_what_their_runs_knew(tmp_path):
    place = dealer(tmp_path)
    line = {
        "vehicle": "A1",
        "rank": 1,
        "action": "replace",
        "part": "hose",
        "position": "",
        "chance": 0.5,
        "clears": "E:1",
    }
    lists = pl.DataFrame([line, line | {"rank": 2}])
    weeks = ("2026-W46", "2026-W47", "2026-W48")
    save(place, *(learned(week, tables={"shortlist": lists}) for week in weeks), learned("2026-W40"))
    with reading(place) as warehouse:
        lines = ModelStore(warehouse).first_lines("2026-W48")
        last = warehouse.number("select coalesce(max(file_id), 0) from raw.files")
        assert ModelStore(warehouse).first_lines("2026-W01").is_empty()
    assert lines.select("week", "last_file", "vehicle", "part", "chance").rows() == [
        (week, last, "A1", "hose", 0.5) for week in weeks[:2]
    ]


@pytest.mark.parametrize(("kind", "name"), [("arrays", "fitted"), ("table", "families")])
def test_damage_is_told_and_what_to_do(tmp_path, kind, name):
    place = dealer(tmp_path)
    save(place, learned(fitted=ARRAYS, tables=TABLES))
    told = rf"run of 2026-W48 had learned is damaged .* sum of its {name} is \w{{64}}, it .* run 'knockon weekly' again"
    with opened(place) as warehouse:
        flipped = "content[:-3] || '\\x00\\x01'::blob"
        warehouse.execute(
            f"update fitted.contents set content = {flipped} where kind = $kind and name = $name",
            {"kind": kind, "name": name},
        )
        for read in (ModelStore(warehouse).latest, ModelStore(warehouse).current):
            with pytest.raises(WorkspaceError, match=told):
                read()
        ModelStore(warehouse).save(learned("2026-W49"))
        assert ModelStore(warehouse).latest().week == "2026-W49", "the next run mends it"


def test_marts_that_were_built_again_are_no_stored_runs_until_one_is_saved(tmp_path):
    place = dealer(tmp_path)
    with opened(place) as warehouse:
        build(warehouse)
        ModelStore(warehouse).save(learned("2026-W47"))
        assert ModelStore(warehouse).current().week == "2026-W47"
        warehouse.build(shipped_models()[0], PARAMS)
        assert ModelStore(warehouse).current() is None
        assert ModelStore(warehouse).latest().week == "2026-W47"


def test_an_undo_strikes_the_runs_that_knew_the_file(tmp_path):
    place = dealer(tmp_path)
    taken(place, scans_1=scans("P0301"))
    save(place, learned("2026-W46"))
    taken(place, scans_2=scans("P0302"), scans_3=scans("P0303"))
    save(place, learned("2026-W47"), learned("2026-W40"))
    undone(place, "scans_3.csv")
    with reading(place) as warehouse:
        assert ModelStore(warehouse).latest().week == "2026-W46", "a later run knew it, whatever week it was made for"
        assert ModelStore(warehouse).current() is None
        assert warehouse.number("select count(*) from fitted.contents") == 1


@pytest.mark.slow
def test_a_restored_database_knows_no_run(tmp_path):
    place = dealer(tmp_path)
    taken(place, scans_1=scans("P0301"))
    with opened(place) as warehouse:
        build(warehouse)
        write_snapshot(place, warehouse, date(2026, 11, 23), "asked")
        ModelStore(warehouse).save(learned(fitted=ARRAYS))
    restore(place)
    with reading(place) as warehouse:
        assert (ModelStore(warehouse).latest(), ModelStore(warehouse).current()) == (None, None)
        assert warehouse.columns("marts.codes") == {}


@pytest.mark.slow
def test_a_look_shows_the_marts_of_the_last_build_and_leaves_no_trace(tmp_path):
    place = dealer(tmp_path)
    put(place, "scans/a.csv", scans("P0301"))
    run(place)
    with opened(place) as warehouse:
        frames = build(warehouse)
        ModelStore(warehouse).save(learned())
    with reading(place) as one, reading(place) as other:
        assert one.fetch("marts.open_codes").equals(frames["open_codes"])
        assert frames["open_codes"].height == 1
        one.execute("delete from marts.open_codes")
        assert other.fetch("marts.open_codes").height == 1
        with opened(place) as warehouse:
            assert warehouse.fetch("marts.open_codes").height == 1, "a look keeps no run waiting"


def test_a_look_at_a_workspace_without_a_database_makes_none(tmp_path):
    place = dealer(tmp_path)
    with reading(place) as warehouse:
        assert warehouse.fetch("raw.files").height == 0
    assert not place.database.exists()


def test_a_look_while_a_run_is_on_is_refused(tmp_path):
    place = dealer(tmp_path)
    run(place)
    told = r"another run is using .*; wait until it ends"
    with opened(place), pytest.raises(WorkspaceError, match=told), reading(place):
        pass
