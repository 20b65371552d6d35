"""A file of raw answers: bytes as the control units sent them, in hex behind the address that answered.

The layout is our own.  A scan opens with heading lines (vehicle or vin, scanned_at,
and where wanted odometer, odometer_unit, link and format); behind them stands one
answer a line, or the frames of a CAN log as common tools write them.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import polars as pl

from pipelines.errors import InputFileError
from pipelines.reading.diagnostics.answer_lines import WANTED, ScanBlock, is_answer_line, split_scans
from pipelines.reading.diagnostics.scan_rows import Row, scan_rows
from pipelines.reading.layouts import LAYOUTS, Layout
from pipelines.reading.source import read_text
from pipelines.reading.tabular.raw_table import RawTable, Reject

SUFFIXES = (".hex", ".log", ".txt")
_MOST_NOTES = 20
_LOOKED_AT = 200
_LOOK = 65_536
_OURS = ".hex"


def read_answers(path: Path, layout: Layout) -> RawTable:
    """Read a file of raw answers as rows of the scans table.

    Args:
        path: The file.
        layout: The scans; no other table can be answered.

    Returns:
        One row a code, and one a list that is empty and a module that was silent; ``row`` is the line of the answer.
        Each says what was asked, and whether the module's lines were all understood.

    Raises:
        InputFileError: The file is no text, holds no answer, or is meant for another table.
        OSError: It cannot be opened.
    """
    if layout.name != "scans":
        raise InputFileError(
            f"{path}: found a file of raw answers for {layout.name}; expected one for scans. The file was not loaded."
        )
    text = read_text(path)
    if path.suffix.lower() != _OURS and not looks_like_responses(text[:_LOOK].encode()):
        raise InputFileError(
            f"{path}: found text that is no list of raw answers; expected lines like {WANTED}. The file was not loaded."
        )
    scans = split_scans(text)
    if not any(_answers(scan) or scan.faults for scan in scans):
        raise InputFileError(f"{path}: found no answer; expected lines like {WANTED}. The file was not loaded.")
    notes: Counter[str] = Counter()
    rows: list[Row] = []
    rejects: list[Reject] = []
    for scan in scans:
        found, wrong = scan_rows(scan, notes)
        rows += found
        rejects += wrong
        notes["frames of the log that belong to no answer were passed over"] += scan.passed
    return RawTable(_frame(rows), rejects, _told(notes))


def looks_like_responses(head: bytes) -> bool:
    """Say whether a file is most likely one of raw answers.

    Args:
        head: The first bytes of it; some kilobytes are enough, and the last line may be cut.

    Returns:
        True where at least half of the lines that are neither heading nor comment are answers or frames, at least one.
    """
    lines = head.decode("utf-8-sig", errors="replace").splitlines()[:_LOOKED_AT]
    verdicts = [verdict for verdict in map(is_answer_line, lines) if verdict is not None]
    return any(verdicts) and sum(verdicts) * 2 >= len(verdicts)


def _answers(scan: ScanBlock) -> bool:
    return any(message.kind != "request" for message in scan.messages)


def _frame(rows: list[Row]) -> pl.DataFrame:
    names = [*(column.name for column in LAYOUTS["scans"].columns), "complete"]
    columns = {name: [row.get(name) or None for row in rows] for name in names}
    numbers = [row["row"] for row in rows]
    return pl.DataFrame({"row": numbers, **columns}, schema={"row": pl.Int64, **dict.fromkeys(names, pl.String)})


def _told(notes: Counter[str]) -> list[str]:
    """Return the notes in the order they turned up, each with how often, and the rest as a number."""
    told = [note if times == 1 else f"{note} ({times} times)" for note, times in notes.items() if times]
    if len(told) > _MOST_NOTES:
        told[_MOST_NOTES:] = [f"and {len(told) - _MOST_NOTES} more of this kind"]
    return told
