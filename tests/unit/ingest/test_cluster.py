"""Whoever does the pieces, the tables are the same: here in pieces, and in two worker processes."""

from __future__ import annotations

import json
import shutil
import sys
from datetime import date
from pathlib import Path

import pytest

from analysis.mining.car_counts import car_counts, split_cars, sum_counts
from analysis.mining.episode_arrays import episode_arrays
from fixtures.dealer.drawing import draw
from fixtures.dealer.writing import write
from pipelines.batch.weekly import read, run_week
from pipelines.errors import SettingsError, WorkspaceError
from pipelines.ingest.cluster import working
from pipelines.ingest.parallel import read_ahead
from pipelines.reading.layouts import LAYOUTS
from pipelines.settings import Settings
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace
from tests.support.mining_fleets import draw_fleet

DAY = date(2026, 11, 23)


@pytest.fixture(scope="module")
def drawn(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("drawn") / "dealer"
    write(draw(60, 12, seed=5), folder, 5)
    (folder / "inbox" / "scans" / "broken.csv").write_text("no,such,header\n1,2,3\n", encoding="utf-8")
    return folder


def workspace(drawn: Path, place: Path) -> Workspace:
    shutil.copytree(drawn, place)
    return Workspace.open(place)


def raw_rows(place: Workspace) -> dict[str, list[tuple]]:
    """Return every row of every table that was read or built."""
    query = "select table_schema || '.' || table_name as name from information_schema.tables order by all"
    with Warehouse(place.database) as warehouse:
        names = [name for name in warehouse.query(query)["name"] if not name.startswith(("main.", "temp."))]
        # When a run was made is the clock's, not the readers'.
        return {name: warehouse.fetch(name).drop("made_at", strict=False).rows() for name in names}


def report(place: Workspace) -> dict[str, bytes]:
    """Return the files of the report; those with the workspace's clock in them without it."""
    files = {path.name: path.read_bytes() for path in place.reports.rglob("*") if path.is_file()}
    run = json.loads(files.pop("run.json"))
    run["settings"].pop("workers")
    return files | {"run.json": json.dumps(run | {"timings": {}}).encode()}


def mapped(work, items):
    """Do the pieces here, one by one, after a journey through bytes."""
    cloudpickle = pytest.importorskip("cloudpickle")
    for item in items:
        yield cloudpickle.loads(cloudpickle.dumps(work(cloudpickle.loads(cloudpickle.dumps(item)))))


@pytest.mark.parametrize("parts", [1, 2, 7, 1000])
def test_counts_of_parts_add_up_to_the_counts_of_all_cars(parts) -> None:
    arrays = episode_arrays(draw_fleet(3, 150, 4).frames())
    whole, summed = car_counts(arrays), sum_counts([car_counts(part) for part in split_cars(arrays, parts)])
    assert len(split_cars(arrays, parts)) == min(parts, len(arrays.starts))
    assert len(whole.first) > 50
    for name in ("both_read", "present", "first", "second", "vehicles"):
        assert getattr(summed, name).tolist() == getattr(whole, name).tolist()
    assert summed.baskets == whole.baskets


@pytest.mark.slow
def test_files_read_ahead_fill_the_same_tables(drawn, tmp_path) -> None:
    rows = []
    for name, spread in (("alone", None), ("ahead", mapped)):
        place = workspace(drawn, tmp_path / name)
        with Warehouse(place.database) as warehouse:
            done = read(place, Settings(), warehouse, week="2026-W48", progress=lambda _: None, spread=spread)
        assert [file.name for file in done.intake.refused] == ["scans/broken.csv"]
        rows.append(raw_rows(place))
    assert rows[0] == rows[1]
    assert len(rows[0]["raw.scans"]) > 1000


def test_a_file_that_changed_since_it_was_read_ahead_is_read_again(tmp_path) -> None:
    path, zone = tmp_path / "parts.csv", Settings().zone
    path.write_text("part,part_cost\nfuse,1.00\n", encoding="utf-8")
    reader = read_ahead(
        lambda work, items: iter(list(map(work, items))),
        [(LAYOUTS["parts"], path)],
        zone,
        [],
        habits=Settings().habits,
        room=tmp_path / "room",
    )
    path.write_text("part,part_cost\nfuse,2.00\n", encoding="utf-8")
    assert reader(path, LAYOUTS["parts"], zone, [], Settings().habits).rows["part_cost"].to_list() == ["2"]


def test_without_the_extra_the_setting_says_what_to_install(monkeypatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    with (
        pytest.raises(SettingsError, match=r"workers is '2', which needs the extra 'cluster': pip install"),
        working("2"),
    ):
        pass


@pytest.mark.slow
def test_two_workers_leave_the_same_tables_and_report(drawn, tmp_path) -> None:
    pytest.importorskip("distributed", reason="the extra 'cluster' is not installed: two workers were not tried")
    alone, spread = workspace(drawn, tmp_path / "alone"), workspace(drawn, tmp_path / "spread")
    with spread.settings_file.open("a", encoding="utf-8") as settings:
        settings.write('workers = "2"\n')
    run_week(alone, DAY)
    run_week(spread, DAY)
    assert raw_rows(spread) == raw_rows(alone)
    assert report(spread) == report(alone)


def _end(_: int) -> None:
    """In a worker: end its process at once, as the system does where memory is short."""
    import os  # noqa: PLC0415 - sent to the worker with the function

    os._exit(1)


@pytest.mark.slow
def test_a_worker_that_ends_before_its_work_is_done_is_told_with_what_to_do() -> None:
    distributed = pytest.importorskip("distributed", reason="the extra 'cluster' is not installed: no worker to end")
    cloudpickle = pytest.importorskip("cloudpickle")
    cloudpickle.register_pickle_by_value(sys.modules[__name__])
    dask = pytest.importorskip("dask")
    words = (
        r"^a worker process ended before its work was done \(\w+\); .* stay taken in\. Run it again with fewer workers"
    )
    try:
        with (
            dask.config.set({"distributed.scheduler.allowed-failures": 0}),
            working("1") as spread,
            pytest.raises(WorkspaceError, match=words) as caught,
        ):
            list(spread(_end, [1]))
    finally:
        cloudpickle.unregister_pickle_by_value(sys.modules[__name__])
    assert isinstance(caught.value.__cause__, distributed.KilledWorker | distributed.CancelledError)


def test_an_address_that_no_scheduler_can_have_is_told() -> None:
    pytest.importorskip("distributed", reason="the extra 'cluster' is not installed: no scheduler to look for")
    with (
        pytest.raises(SettingsError, match=r"no scheduler answers at tcp://here \(expected a name and a port, such as"),
        working("tcp://here"),
    ):
        pass
