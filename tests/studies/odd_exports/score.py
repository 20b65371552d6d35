"""Score: of the odd exports, how many are read right with the proposals alone, told in words, or silently wrong?

Right: the rows are those of the truth.  Told: the file, or the draft, is refused in words, or every row that lacks
is counted as unread.  Silently wrong: a row that is not so was loaded, or one lacks without a word.

Run: ``python -m tests.studies.odd_exports.score SEED [held-out|fresh|again|third|fourth] [--show]``.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from pathlib import Path
from zoneinfo import ZoneInfo

from analysis.vocabulary.modules import ModuleIndex
from pipelines.errors import BatchError
from pipelines.reading.drafting.doubts import doubts_of
from pipelines.reading.drafting.draft_mapping import draft_mapping
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_file, read_mapped
from pipelines.storage.sql_models import reference_table
from tests.studies.odd_exports.export import Export, Row
from tests.studies.odd_exports.fresh_again import draw_again
from tests.studies.odd_exports.fresh_fourth import draw_fourth
from tests.studies.odd_exports.fresh_set import draw_fresh
from tests.studies.odd_exports.fresh_third import draw_third
from tests.studies.odd_exports.held_out import draw_held_out
from tests.studies.odd_exports.shapes import draw_exports

_ZONE = ZoneInfo("UTC")
_INDEX = ModuleIndex.from_rows(reference_table("modules").iter_rows(named=True))
_MILE = 1.609344


def read(path: Path, table: str) -> Reading:
    """Read a file as the user would who takes every proposal.

    Raises:
        BatchError: It was refused, in words.
    """
    try:
        return read_file(path, LAYOUTS[table], _ZONE, [])
    except BatchError:
        draft = draft_mapping(path, lambda text: _INDEX.canonical(text)[1])
    if draft.open:
        raise BatchError("; ".join(f"{asked.asks} ({asked.why})" for asked in draft.open))
    trial = path.with_suffix(".toml")
    trial.write_text(draft.toml(), encoding="utf-8")
    mapping = load_mapping(trial)
    reading = read_mapped(path, mapping, _ZONE)
    doubts = doubts_of(path, mapping, reading)
    if doubts:
        raise BatchError("; ".join(doubts))
    return reading


def score(export: Export) -> tuple[str, str]:
    """Return right, told or wrong, and why."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / export.name
        path.write_bytes(export.content)
        try:
            reading = read(path, export.table)
        except BatchError as error:
            return "told", str(error).replace(folder, "")[:300]
    got, wanted = Counter(map(_key, _rows(reading, export))), Counter(map(_key, export.rows))
    if got == wanted:
        return ("right", "") if not export.asks else ("wrong", "it guessed where it should have asked")
    extra, lacking = got - wanted, wanted - got
    told = reading.rejects.select("row").n_unique()
    if not extra and told >= lacking.total():
        return "told", f"{told} rows refused, {lacking.total()} lack: {reading.rejects.head(1).rows()}"
    return (
        "wrong",
        f"{extra.total()} rows too many, {lacking.total()} lack; {list(extra)[:1]} against {list(lacking)[:1]}",
    )


def _rows(reading: Reading, export: Export) -> list[Row]:
    found = []
    names = list(export.rows[0])
    for row in reading.rows.iter_rows(named=True):
        made: Row = {}
        for name in names:
            if name == "km":
                unit = _MILE if row["odometer_unit"] == "mi" else 1.0
                made[name] = None if row["odometer"] is None else float(row["odometer"]) * unit
            elif name == "module":
                made[name] = _canonical(row["module"])
            elif name in ("scanned_at", "done_at"):
                made[name] = (row[name] or "")[: len(str(export.rows[0][name]))]
            else:
                made[name] = row[name]
        if "km" not in names and row.get("odometer") is not None:
            made["km"] = f"an odometer of {row['odometer']} out of nothing"
        found.append(made)
    return found


def _canonical(name: str | None) -> str | None:
    return None if name is None else _INDEX.canonical(name)[0]


def _key(row: Row) -> tuple[object, ...]:
    return tuple((name, _plain(name, cell)) for name, cell in sorted(row.items()))


def _plain(name: str, cell: object) -> object:
    if cell is None or cell == "":
        return None
    try:
        number = float(str(cell))
    except ValueError:
        return " ".join(str(cell).split())
    return round(number) if name == "km" else round(number, 2)


def main() -> None:
    """Score a set and print it."""
    seed = int(sys.argv[1])
    draws = {
        "held-out": draw_held_out,
        "fresh": draw_fresh,
        "again": draw_again,
        "third": draw_third,
        "fourth": draw_fourth,
    }
    exports = next((draws[word](seed) for word in sys.argv if word in draws), None) or draw_exports(seed)
    results = []
    for export in exports:
        try:
            result, why = score(export)
        except Exception as error:
            result, why = "wrong", f"crashed: {type(error).__name__}: {error}"[:300]
        results.append(result)
        if "--show" in sys.argv:
            print(f"{result:<6}{export.kind:<17}{why}")
    print(
        f"{len(results)} exports: " + ", ".join(f"{results.count(word)} {word}" for word in ("right", "told", "wrong"))
    )


if __name__ == "__main__":
    main()
