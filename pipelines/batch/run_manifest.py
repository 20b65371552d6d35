"""What a run says of itself: counts in and out, settings used, versions, timings, warnings.

Everything here but the timings comes from the database and the settings, so a
report made again from the same files says the same.
"""

from __future__ import annotations

import platform
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from importlib.metadata import version
from typing import Any, TypedDict

from pipelines.settings import Settings
from pipelines.storage.warehouse import Warehouse

_LIBRARIES = ("knockon", "polars", "duckdb", "mlxtend", "altair", "prefect", "scipy", "networkx")
_FILES = """
select name, layout, rows_read, rows_loaded, rows_refused, rows_repeated, refused, notes
from raw.files where week = $week order by layout, name, sha256
"""


class RunRecord(TypedDict):
    """The content of ``run.json``, without the timings."""

    week: str
    as_of: str
    counts: dict[str, int]
    tables: dict[str, int]
    files: list[dict[str, Any]]
    settings: dict[str, object]
    versions: dict[str, str]
    warnings: list[str]
    before: str | None


def run_record(
    warehouse: Warehouse,
    settings: Settings,
    as_of: date,
    *,
    week: str,
    tables: Mapping[str, int],
    notes: Sequence[str],
    before: str | None,
) -> RunRecord:
    """Return the content of ``run.json``, without the timings.

    Args:
        warehouse: The open database.
        settings: The settings used.
        as_of: The day the report is made for.
        week: The report's week.
        tables: Rows of each outgoing table.
        notes: What the run noticed, in words.
        before: The week that this one was compared with, if there was one.
    """
    files = warehouse.query(_FILES, {"week": week}).to_dicts()
    counts = dict(warehouse.fetch("marts.run_counts", ("name",)).iter_rows())
    for name in ("rows_read", "rows_loaded", "rows_refused", "rows_repeated"):
        counts[name] = sum(file[name] for file in files)
    counts["files_read"] = sum(file["refused"] is None for file in files)
    counts["files_refused"] = sum(file["refused"] is not None for file in files)
    return {
        "week": week,
        "as_of": as_of.isoformat(),
        "counts": dict(sorted(counts.items())),
        "tables": dict(sorted(tables.items())),
        "files": files,
        "settings": asdict(settings),
        "versions": {"python": platform.python_version(), **{name: version(name) for name in _LIBRARIES}},
        "warnings": [*notes, *(f"{file['name']}: {note}" for file in files for note in file["notes"])],
        "before": before,
    }
