"""Every released version of the database is brought forward whole; one of a newer program is left alone."""

from __future__ import annotations

from datetime import date, datetime

import duckdb
import pytest

from pipelines.errors import WorkspaceError
from pipelines.storage.file_archive import content_hash
from pipelines.storage.migrations import VERSION
from pipelines.storage.model_store import ModelStore, StoredRun
from pipelines.storage.session import opened
from pipelines.storage.snapshots import snapshots, verify
from pipelines.storage.warehouse import Warehouse
from tests.support.keepers import SCAN, dealer, held, put, run

# The tables as version 1 made them, written down here once more: what was released must not change with the code.
FIRST = """
create schema raw;
create schema staging;
create sequence raw.file_ids;
create table raw.files (
    file_id bigint primary key, sha256 varchar not null, layout varchar not null, name varchar not null,
    week varchar not null, rows_read bigint not null, rows_loaded bigint not null, rows_refused bigint not null,
    rows_repeated bigint not null, refused varchar, notes varchar[] not null
);
create table raw.rejects (
    file_id bigint not null, row bigint, "column" varchar, value varchar, why varchar not null
);
create table raw.scans (
    file_id bigint not null, row bigint not null, content uhugeint not null, ordinal bigint not null
);
create table staging.old_model as select 1 as x;
"""
# And what version 2 had beside the tables of the layouts.
SECOND = """
create schema raw;
create table raw.files (
    file_id bigint not null, sha256 varchar not null, layout varchar not null, name varchar not null,
    week varchar not null, rows_read bigint not null, rows_loaded bigint not null, rows_refused bigint not null,
    rows_repeated bigint not null, refused varchar, notes varchar[] not null, bytes bigint, run varchar
);
create table raw.rejects (
    file_id bigint not null, row bigint, "column" varchar, value varchar, why varchar not null
);
create table raw.pending (
    place bigint not null, what varchar not null, layout varchar not null, sha256 varchar not null,
    name varchar not null, week varchar not null, run varchar, why varchar
);
create table raw.version (number bigint not null);
insert into raw.version values (2);
insert into raw.files
    values (1, 'ab', 'scans', 'scans/1.csv', '2026-W40', 2, 1, 1, 0, null, ['a note'], 9, '2026-W40.1');
"""
SAID = ("vehicle", "scanned_at", "module", "code")
CELLS = ("A1", "2026-03-01 09:00:00", "ECM", "P0301")


def first_version(place, sha256: str = "0" * 64) -> None:
    """Draw a database as version 1 left it: one file taken in, one refused."""
    marked = chr(31).join(f"{name}={cell}" for name, cell in zip(SAID, CELLS, strict=True))
    with duckdb.connect(str(place.database)) as con:
        con.execute(FIRST)
        for name in SAID:
            con.execute(f"alter table raw.scans add column {name} varchar")
        for number, why in ((nextval(con), None), (nextval(con), "scans/bad.csv: no header")):
            con.execute(
                "insert into raw.files values (?, ?, 'scans', ?, '2026-W40', 2, 1, 1, 0, ?, ['a note'])",
                [number, sha256 if why is None else "f" * 64, f"scans/{number}.csv", why],
            )
        con.execute("insert into raw.rejects values (1, 3, 'scanned_at', 'soon', 'expected a time')")
        con.execute("insert into raw.scans values (1, 2, md5_number(?), 1, ?, ?, ?, ?)", [marked, *CELLS])


def nextval(con: duckdb.DuckDBPyConnection) -> int:
    return con.execute("select nextval('raw.file_ids')").fetchall()[0][0]


def test_version_1_comes_forward_with_all_it_held(tmp_path):
    place = dealer(tmp_path)
    first_version(place)
    with opened(place) as warehouse:
        assert warehouse.version == VERSION
        files = warehouse.fetch("raw.files", ("file_id",)).rows(named=True)
        assert [(file["file_id"], file["run"], file["bytes"], file["notes"]) for file in files] == [
            (1, "2026-W40.1", None, ["a note"]),
            (2, None, None, ["a note"]),
        ]
        assert warehouse.fetch("raw.rejects").rows() == [(1, 3, "scanned_at", "soon", "expected a time")]
        assert warehouse.query("select vehicle, module, code, odometer from raw.scans").rows() == [
            ("A1", "ECM", "P0301", None)
        ]
    [kept] = snapshots(place)
    assert kept.reason == "version1"
    assert verify(kept).version == 1


def test_version_2_comes_forward_and_keeps_what_runs_learn(tmp_path):
    place = dealer(tmp_path)
    with duckdb.connect(str(place.database)) as con:
        con.execute(SECOND)
    with opened(place) as warehouse:
        assert (warehouse.version, warehouse.fetch("raw.files").height) == (VERSION, 1)
        store = ModelStore(warehouse)
        assert (store.latest(), store.current()) == (None, None)
        store.save(
            StoredRun(
                week="2026-W48",
                as_of=date(2026, 11, 23),
                made_at=datetime(2026, 11, 23, 7),
                version="0.1.0",
                fitted={},
                tables={},
            )
        )
        assert store.latest() == store.current()
    [kept] = snapshots(place)
    assert kept.reason == "version2"


def test_a_row_that_version_1_knew_is_known_again(tmp_path):
    place = dealer(tmp_path)
    first_version(place)
    put(place, "scans/again.csv", [SCAN, {**SCAN, "code": "P0302"}])
    [file] = run(place).loaded
    assert (file.rows_loaded, file.rows_repeated) == (1, 1)
    assert [row[0] for row in held(place)["raw.files"]] == [1, 2, 3]


def test_bytes_that_version_1_took_in_are_skipped(tmp_path):
    place = dealer(tmp_path)
    path = put(place, "scans/again.csv", [SCAN])
    first_version(place, content_hash(path))
    assert run(place).skipped == ["scans/again.csv"]


def test_a_step_that_fails_leaves_the_older_version_as_it_was(tmp_path, monkeypatch):
    place = dealer(tmp_path)
    first_version(place)
    monkeypatch.setattr(
        "pipelines.storage.migrations._STEPS",
        dict.fromkeys(range(2, VERSION + 1), "") | {2: "drop table raw.files; select no_such_column"},
    )
    with pytest.raises(duckdb.BinderException, match="no_such_column"):
        Warehouse(place.database)
    with duckdb.connect(str(place.database)) as con:
        assert con.execute("select count(*) from raw.files").fetchall() == [(2,)]


def test_a_database_of_a_newer_program_is_left_alone(tmp_path):
    place = dealer(tmp_path)
    with Warehouse(place.database) as warehouse:
        warehouse.execute("update raw.version set number = $number", {"number": VERSION + 1})
    before = place.database.read_bytes()
    newer = rf"knockon\.duckdb was written by a newer knockon \(its version is {VERSION + 1}, this program knows up to"
    with pytest.raises(WorkspaceError, match=newer), opened(place):
        pass
    assert place.database.read_bytes() == before
    assert snapshots(place) == []
