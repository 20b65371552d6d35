"""In which time zone the kept times are shown, and in which one a row is known again.

A time that a file writes with an offset is kept as the moment it names, in UTC, and
beside it as the local time of the workspace.  When the setting is changed, the local
times are shown anew, and no row that is kept becomes another one: rows are known by
their time in the zone in which the database began.
"""

# ruff: noqa: S608 - only names that the program itself declares are put into SQL text; values are bound

from __future__ import annotations

from zoneinfo import ZoneInfo

import polars as pl

from pipelines.reading.cell_values import local, once_each
from pipelines.reading.layouts import LAYOUTS, Layout, instants
from pipelines.storage.warehouse import Warehouse


def show_in(warehouse: Warehouse, zone: ZoneInfo) -> list[str]:
    """Bring the kept local times to a zone.

    Args:
        warehouse: The open database.
        zone: The workspace's time zone as it is set now.

    Returns:
        What changed, in words; nothing where the zone is the one of before.
    """
    kept = warehouse.query("select shown from raw.time_zone")["shown"].to_list()
    if not kept:
        warehouse.execute("insert into raw.time_zone values ($zone, $zone)", {"zone": zone.key})
    if not kept or kept == [zone.key]:
        return []
    with warehouse.transaction():
        moved = {name: _move(warehouse, layout, zone) for name, layout in LAYOUTS.items() if instants(layout)}
        warehouse.execute("update raw.time_zone set shown = $zone", {"zone": zone.key})
    told = " and ".join(f"{rows} rows of {name}" for name, rows in moved.items())
    return [
        f"time_zone was changed from {kept[0]} to {zone.key}: {told}, whose times were written with an offset, are now "
        f"shown in {zone.key}; times without an offset stay as they are written. Nothing was loaded twice"
    ]


def _move(warehouse: Warehouse, layout: Layout, zone: ZoneInfo) -> int:
    rows = 0
    for name, utc in instants(layout).items():
        moments = warehouse.query(f"select distinct {utc} as utc from raw.{layout.name} where {utc} is not null")
        with warehouse.incoming(moments.with_columns(here=local(pl.col("utc"), zone))):
            warehouse.execute(
                f"update raw.{layout.name} set {name} = incoming.here from incoming where {utc} = incoming.utc"
            )
        rows += warehouse.number(f"select count(*) from raw.{layout.name} where {utc} is not null")
    return rows


def known_times(warehouse: Warehouse, layout: Layout, rows: pl.DataFrame) -> pl.DataFrame:
    """Add ``known NAME`` for each column of times: what the row is known by, whatever the zone is now.

    Args:
        warehouse: The open database.
        layout: The rows' table.
        rows: Every column that the layout keeps.

    Returns:
        The rows with the columns added; times without an offset are known as they are written.
    """
    named = warehouse.query("select known_by from raw.time_zone")["known_by"].to_list()
    for name, utc in instants(layout).items():
        there = rows[name]
        if named:
            there = _shown(rows[utc], ZoneInfo(named[0])).fill_null(rows[name])
        rows = rows.with_columns(there.alias(f"known {name}"))
    return rows


def _shown(moments: pl.Series, zone: ZoneInfo) -> pl.Series:
    return once_each(moments, lambda found: found.to_frame("utc").select(local(pl.col("utc"), zone)).to_series())
