"""Feed ``check`` and the weekly run hostile files by the thousand: what the one takes, the other loads.

    python -m tests.studies.check_equals_weekly [files] [first]

The files are dealt out to workspaces of 500; each workspace runs its whole week.  Ends with 1 at the first file whose
counts differ, or the first week that fails.  Not a test: it takes minutes.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections import Counter
from datetime import date
from pathlib import Path

from pipelines.batch.weekly import run_week
from pipelines.reading.file_check import FileCheck, check_file
from pipelines.report.new_workspace import init_workspace
from pipelines.settings import load_settings
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace
from tests.support.hostile_files import MAPPING, hostile_file

A_WORKSPACE = 500
_COUNTS = "select name, rows_read, rows_loaded + rows_repeated as taken, refused from raw.files"


def checked_workspace(folder: Path, numbers: range) -> tuple[Workspace, dict[str, FileCheck]]:
    """Put files into a new workspace's inbox, and check each of them there."""
    init_workspace(folder)
    place = Workspace.open(folder)
    (folder / "mappings").mkdir(exist_ok=True)
    (folder / "mappings" / "wide.toml").write_text(MAPPING, encoding="utf-8")
    settings, found, seen = load_settings(place.settings_file), {}, set()
    for number in numbers:
        table, name, content = hostile_file(number)
        if (table, content) in seen:
            continue  # bytes that were loaded before are skipped
        seen.add((table, content))
        path = place.inbox / table / name
        path.write_bytes(content)
        found[f"{table}/{name}"] = check_file(path, settings)
    return place, found


def differences(warehouse: Warehouse, found: dict[str, FileCheck]) -> list[str]:
    """Say of which files the check and the database do not agree."""
    kept = {name: tuple(rest) for name, *rest in warehouse.query(_COUNTS).iter_rows()}
    wrong = []
    for name, check in found.items():
        read, taken, refused = kept.get(name, (None, None, None))
        if (refused is None) != (check.refused is None):
            wrong.append(f"{name}: check says {check.refused!r}, the week {refused!r}")
        elif refused is None and (read, taken) != (check.rows_read, check.rows_taken):
            wrong.append(f"{name}: check takes {check.rows_taken} of {check.rows_read}, the week {taken} of {read}")
    return wrong


def main() -> int:
    """Feed and compare."""
    files = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    counts: Counter[str] = Counter()
    begun = time.monotonic()
    for start in range(first, first + files, A_WORKSPACE):
        with tempfile.TemporaryDirectory() as name:
            place, found = checked_workspace(Path(name), range(start, min(start + A_WORKSPACE, first + files)))
            run_week(place, date(2026, 11, 23))
            with Warehouse(place.database) as warehouse:
                wrong = differences(warehouse, found)
        for check in found.values():
            counts["files refused" if check.refused else "files read"] += 1
            counts["rows taken"] += check.rows_taken
            counts["rows refused"] += check.rows_read - check.rows_taken
        if wrong:
            print("\n".join(wrong))
            return 1
        print(f"{start + A_WORKSPACE - first} files", file=sys.stderr, flush=True)
    print(", ".join(f"{number} {what}" for what, number in sorted(counts.items())))
    print(f"{files} files in {time.monotonic() - begun:.0f} s: what check takes, the week loads")
    return 0


if __name__ == "__main__":
    sys.exit(main())
