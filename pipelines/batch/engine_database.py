"""The engine's own database: laid out at once where its layout is known, by the engine's migrations elsewhere.

The migrations run through the engine's whole past, some hundred steps that take longer than all that a run asks of it.
``engine_schema/`` holds what comes out of them, by the engine's version; another version migrates as it always does.
"""

from __future__ import annotations

import asyncio
import re
import sqlite3
from contextlib import closing
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path

_STANDS = "select version_num from alembic_version"
_HEAD = re.compile(r"""^INSERT INTO "alembic_version" VALUES\('(\w+)'\);$""", re.MULTILINE)


def lay_out_database(place: Path) -> None:
    """Have the engine's database in place, as this version of the engine wants it.

    Args:
        place: The database's file, which need not be there.
    """
    script = _known_layout()
    if script is not None and not place.exists():
        fresh = place.with_suffix(".new")
        fresh.unlink(missing_ok=True)
        with closing(sqlite3.connect(fresh)) as connection:
            connection.executescript(script)
        fresh.replace(place)
    elif script is None or _stands_at(place) != _HEAD.findall(script):
        migrate()


def migrate() -> None:
    """Have the engine bring its database, whose place its settings tell, from whatever it is to what it should be."""
    from prefect.server.database import provide_database_interface

    async def make() -> None:
        database = provide_database_interface()
        await database.create_db()
        await (await database.engine()).dispose()

    asyncio.run(make())


def _known_layout() -> str | None:
    script = files("pipelines.batch") / "engine_schema" / f"{version('prefect')}.sql"
    return script.read_text(encoding="utf-8") if script.is_file() else None


def _stands_at(place: Path) -> list[str]:
    """Return the migration after which a database stands; nothing where it does not tell."""
    try:
        with closing(sqlite3.connect(place)) as connection:
            return [name for (name,) in connection.execute(_STANDS)]
    except sqlite3.Error:
        return []
