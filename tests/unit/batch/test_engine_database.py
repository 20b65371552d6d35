"""The engine's database that is laid out must be the one that the engine's own migrations make."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from pipelines.batch import engine_database
from pipelines.batch.engine_database import lay_out_database
from pipelines.batch.prefect_server import quiet_environment

ROOT = Path(__file__).parents[3]
HEAD = "select version_num from alembic_version"


def told(place: Path) -> list[tuple[str, ...]]:
    """Return all that a database says of itself, and where it stands."""
    with closing(sqlite3.connect(place)) as connection:
        tables = [name for (name,) in connection.execute("select name from sqlite_master where type = 'table'")]
        rows = [(name, str(connection.execute(f'select count(*) from "{name}"').fetchone())) for name in sorted(tables)]
        laid = connection.execute("select type, name, sql from sqlite_master order by type, name").fetchall()
        # The migrations name the constraints of a table in an order that changes from one time to the next.
        lines = [
            (kind, name, *sorted(line.strip(", \t") for line in (sql or "").splitlines())) for kind, name, sql in laid
        ]
        return [*lines, *rows, *connection.execute(HEAD)]


def migrated(home: Path) -> Path:
    """Have the engine migrate the database of a home, in a process of its own."""
    home.mkdir(exist_ok=True)
    words = "from pipelines.batch.engine_database import migrate; migrate()"
    environment = {**quiet_environment(home), "PYTHONPATH": str(ROOT)}
    subprocess.run([sys.executable, "-c", words], env=environment, check=True, timeout=300)
    return home / "prefect.db"


@pytest.mark.slow
def test_the_layout_is_what_the_migrations_of_this_version_make(tmp_path) -> None:
    laid = tmp_path / "prefect.db"
    lay_out_database(laid)
    by_hand = told(migrated(tmp_path / "home"))
    assert told(laid) == by_hand
    assert len(by_hand) > 100


def test_a_database_that_stands_where_it_should_is_left_alone(tmp_path, monkeypatch) -> None:
    place = tmp_path / "prefect.db"
    lay_out_database(place)
    with closing(sqlite3.connect(place)) as connection:
        connection.execute("insert into flow (id, name) values ('a', 'mine')")
        connection.commit()
    monkeypatch.setattr(engine_database, "migrate", lambda: pytest.fail("it was migrated"))
    lay_out_database(place)
    with closing(sqlite3.connect(place)) as connection:
        assert connection.execute("select name from flow").fetchall() == [("mine",)]
    assert os.listdir(tmp_path) == ["prefect.db"]


@pytest.mark.parametrize("spoil", ["update alembic_version set version_num = 'older'", "drop table alembic_version"])
def test_one_of_another_version_or_of_none_is_migrated(tmp_path, monkeypatch, spoil) -> None:
    place = tmp_path / "prefect.db"
    lay_out_database(place)
    with closing(sqlite3.connect(place)) as connection:
        connection.execute(spoil)
        connection.commit()
    asked = []
    monkeypatch.setattr(engine_database, "migrate", lambda: asked.append(place))
    lay_out_database(place)
    assert asked == [place]


def test_a_version_whose_layout_is_not_known_migrates(tmp_path, monkeypatch) -> None:
    asked = []
    monkeypatch.setattr(engine_database, "version", lambda _: "99.0")
    monkeypatch.setattr(engine_database, "migrate", lambda: asked.append(1))
    lay_out_database(tmp_path / "prefect.db")
    assert asked == [1]
    assert not list(tmp_path.iterdir())
