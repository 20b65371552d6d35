"""What the dealer answers to "Look past these?": to agree, to refuse, to take either back.

The questions are the rows of ``standing`` that the last weekly run found, numbered from 1 as the report numbers them.
Agreeing writes background rows into the inbox; the next weekly run takes them in.  Taking that back writes the same
rows once more with a last day that is long over: of background rows for the same codes the latest speaks.  Refused
ones stand in ``standing_refused.csv`` beside the settings, and are not proposed again; no restore touches that file.
"""

from __future__ import annotations

import csv
import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import IO

import polars as pl

from analysis.texts.standing_text import AGREED, TAKEN_BACK, agreed
from pipelines.batch.last_week import last_run
from pipelines.errors import BatchError, refused, shell_command
from pipelines.library_words import in_our_words
from pipelines.reading.layouts import LAYOUTS
from pipelines.storage.session import reading
from pipelines.workspace import Workspace

REFUSED = "standing_refused.csv"
LONG_OVER = "1990-01-01"
"""A last day before every scan and repair."""
_BACKGROUND = [column.name for column in LAYOUTS["background"].columns]
_REFUSED_COLUMNS = ("vehicle", "make", "codes", "reason")

Row = dict[str, str]


@dataclass(frozen=True, kw_only=True)
class Question:
    """A group of codes to look past, or looked past, or not to be.

    Attributes:
        number: What it is called by.
        vehicle: Stock number; blank for every car of the make.
        make: The make; blank for every one.
        codes: Their keys, ``module:code``.
        cars: Cars that show them; 0 where it was refused and is no longer proposed.
        erases_survived: Erases and repairs after which they were there again.
        kind: standing or passing.
        state: proposed, accepted, declared, or refused.
        reason: What speaks for it, or why it was agreed to or refused.
        waiting: The answer is given and the next weekly run takes it in.
    """

    number: int
    vehicle: str
    make: str
    codes: tuple[str, ...]
    cars: int = 0
    erases_survived: int = 0
    kind: str = "standing"
    state: str = "refused"
    reason: str = ""
    waiting: bool = False

    @property
    def where(self) -> str:
        """The car, else the make; blank for every car."""
        return self.vehicle or self.make


def refused_groups(workspace: Workspace) -> pl.DataFrame:
    """Return what the dealer refused: vehicle, make, codes (``;``-separated) and reason, all text.

    Raises:
        BatchError: The file is no table with these columns.
    """
    rows = [[row[name] for name in _REFUSED_COLUMNS] for row in _refused(workspace)]
    return pl.DataFrame(rows, schema=dict.fromkeys(_REFUSED_COLUMNS, pl.String), orient="row")


def questions(workspace: Workspace) -> list[Question]:
    """Return the questions of the last weekly run with the answers given since, then what was refused before it.

    Raises:
        BatchError: No run is kept, or the database is in use.
    """
    with reading(workspace) as warehouse:
        table = last_run(workspace, warehouse).tables.get("standing")
    if table is None:
        again = shell_command("weekly", workspace.root)
        raise BatchError(f"the last run was made by an older version and asks nothing; run '{again}' first.")
    return answered(table, list(_refused(workspace)), list(_waiting(workspace)))


def answered(table: pl.DataFrame, no: Sequence[Row], waiting: Sequence[Row]) -> list[Question]:
    """Lay the answers beside the questions.

    Args:
        table: The columns of ``standing.csv``.
        no: Rows of the file of refused groups.
        waiting: Background rows in the inbox, oldest first.

    Returns:
        The questions by number.
    """
    said = {_key(row): row["reason"] for row in waiting}
    found: list[Question] = []
    for number, row in enumerate(table.to_dicts(), 1):
        one = Question(
            number=number, vehicle=row["vehicle"] or "", make=row["make"] or "", codes=tuple(row["codes"].split(";")),
            cars=row["cars"] or 0, erases_survived=row["erases_survived"] or 0, kind=row["kind"], state=row["state"],
            reason=row["reason"] or "",
        )  # fmt: skip
        found.append(_with_answer(one, no, said))
    known = {(one.vehicle, one.make, one.codes) for one in found if one.state == "refused"}
    for row in no:
        codes = tuple(row["codes"].split(";"))
        if (row["vehicle"], row["make"], codes) not in known:
            found.append(
                Question(
                    number=len(found) + 1, vehicle=row["vehicle"], make=row["make"], codes=codes, reason=row["reason"]
                )
            )
    return found


def _with_answer(one: Question, no: Sequence[Row], said: dict[tuple[str, ...], str]) -> Question:
    answers = {said.get(_key(row), "") for row in _rows(one, "", "")}
    [answer] = answers if len(answers) == 1 else [""]
    if one.state == "proposed" and answer.startswith(AGREED):
        return replace(one, state="accepted", reason=answer, waiting=True)
    if one.state == "accepted" and answer.startswith(TAKEN_BACK):
        return replace(one, state="proposed", reason=answer, waiting=True)
    for row in no:
        same = (row["vehicle"], row["make"]) == (one.vehicle, one.make) and set(one.codes) <= set(
            row["codes"].split(";")
        )
        if one.state == "proposed" and same:
            return replace(one, state="refused", reason=row["reason"])
    return one


def chosen(found: Sequence[Question], numbers: Iterable[int], *states: str) -> list[Question]:
    """Return the questions of these numbers.

    Args:
        found: As ``questions`` returns them.
        numbers: The numbers.
        states: The states that they may be in.

    Raises:
        BatchError: There is no such number, or its state is another.
    """
    by_number = {one.number: one for one in found}
    wanted = []
    for number in dict.fromkeys(numbers):
        if number not in by_number:
            raise BatchError(f"there is no number {number}; the list has {len(found)}. Nothing was changed.")
        one = by_number[number]
        if one.state not in states:
            meant = " or ".join(states)
            hint = (
                ": it stands in a background file of yours or in the stock list; change it there"
                if one.state == "declared"
                else ""
            )
            raise BatchError(f"number {number} is {one.state}, expected {meant}{hint}. Nothing was changed.")
        wanted.append(one)
    return wanted


def accept(workspace: Workspace, which: Sequence[Question], now: datetime) -> Path:
    """Write the background rows that look past the codes from the next weekly run on.

    Args:
        workspace: The dealer's folder.
        which: Proposals.
        now: Local time; the reason names it.

    Returns:
        The new file in ``inbox/background``.
    """
    when = now.strftime("%Y-%m-%d %H:%M")
    _forget(workspace, {row for one in which for row in map(_key, _rows(one, "", ""))}, TAKEN_BACK)
    return _write(workspace, [row for one in which for row in _rows(one, agreed(when, one.kind), "")], now)


def refuse(workspace: Workspace, which: Sequence[Question], now: datetime) -> Path:
    """Remember not to propose the groups again.

    Args:
        workspace: The dealer's folder.
        which: Proposals.
        now: Local time.

    Returns:
        The file of refused groups.
    """
    added = [
        {
            "vehicle": one.vehicle,
            "make": one.make,
            "codes": ";".join(one.codes),
            "reason": f"refused on {now:%Y-%m-%d}: these codes are worked on",
        }
        for one in which
    ]
    return _write_refused(workspace, [*_refused(workspace), *added])


def take_back(workspace: Workspace, which: Sequence[Question], now: datetime) -> list[Path]:
    """Take answers back: refused groups may be proposed again, accepted ones count again.

    Args:
        workspace: The dealer's folder.
        which: Accepted or refused groups.
        now: Local time; the reason names it.

    Returns:
        The files that were written or changed.
    """
    touched = []
    no = [one for one in which if one.state == "refused"]
    if no:
        out = {(one.vehicle, one.make, code) for one in no for code in one.codes}
        kept = []
        for row in _refused(workspace):
            codes = [code for code in row["codes"].split(";") if (row["vehicle"], row["make"], code) not in out]
            kept += [row | {"codes": ";".join(codes)}] if codes else []
        touched.append(_write_refused(workspace, kept))
    yes = [one for one in which if one.state == "accepted"]
    gone = {_key(row) for one in yes for row in _rows(one, "", "")}
    touched += _forget(workspace, gone, AGREED)
    loaded = [one for one in yes if not one.waiting]
    if loaded:
        reason = f"{TAKEN_BACK}{now:%Y-%m-%d %H:%M}"
        touched.append(_write(workspace, [row for one in loaded for row in _rows(one, reason, LONG_OVER)], now))
    return touched


def _rows(one: Question, reason: str, until: str) -> list[Row]:
    """Return the background rows of a group, a row a code; a row of one car names no make."""
    made = []
    for key in one.codes:
        module, _, code = key.partition(":")
        make = "" if one.vehicle else one.make
        told = {"vehicle": one.vehicle, "make": make, "module": module, "code": code.partition("@")[0]}
        made.append(told | {"reason": reason, "until": until})
    return made


def _key(row: Row) -> tuple[str, ...]:
    return tuple(row.get(name) or "" for name in ("vehicle", "make", "module", "code"))


def _write(workspace: Workspace, rows: list[Row], now: datetime) -> Path:
    folder = workspace.inbox / "background"
    folder.mkdir(parents=True, exist_ok=True)
    number = 1
    while True:
        path = folder / f"standing-{now:%Y%m%d-%H%M%S}-{number}.csv"
        try:
            handle = path.open("x", encoding="utf-8", newline="")
        except FileExistsError:
            number += 1
            continue
        with handle:
            _csv(handle, _BACKGROUND, rows)
        return path


def _csv(handle: IO[str], columns: Sequence[str], rows: Iterable[Row]) -> None:
    writer = csv.DictWriter(handle, columns, restval="", extrasaction="ignore")
    writer.writeheader()
    writer.writerows(rows)


def _answers(workspace: Workspace) -> list[Path]:
    return sorted((workspace.inbox / "background").glob("standing-*.csv"))


def _waiting(workspace: Workspace) -> Iterator[Row]:
    """Yield the background rows of answers that no weekly run took in yet, oldest first."""
    for path in _answers(workspace):
        yield from _read(path, _BACKGROUND)


def _forget(workspace: Workspace, keys: set[tuple[str, ...]], beginning: str) -> list[Path]:
    """Take rows whose reason begins so out of the answers that still wait; return the files that were changed."""
    touched = []
    for path in _answers(workspace):
        rows = list(_read(path, _BACKGROUND))
        kept = [row for row in rows if _key(row) not in keys or not row["reason"].startswith(beginning)]
        if len(kept) == len(rows):
            continue
        touched.append(path)
        if kept:
            _replace(path, _BACKGROUND, kept)
        else:
            path.unlink()
    return touched


def _refused(workspace: Workspace) -> Iterator[Row]:
    path = workspace.root / REFUSED
    if path.exists():
        yield from _read(path, _REFUSED_COLUMNS)


def _write_refused(workspace: Workspace, rows: Sequence[Row]) -> Path:
    path = workspace.root / REFUSED
    _replace(path, _REFUSED_COLUMNS, rows)
    return path


def _replace(path: Path, columns: Sequence[str], rows: Sequence[Row]) -> None:
    fresh = path.with_name(f".{path.name}.new")
    with fresh.open("w", encoding="utf-8", newline="") as handle:
        _csv(handle, columns, rows)
    os.replace(fresh, path)


def _read(path: Path, columns: Sequence[str]) -> Iterator[Row]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as handle:
            reader = csv.DictReader(handle)
            lacking = [name for name in columns if name not in (reader.fieldnames or [])]
            if lacking:
                raise BatchError(
                    f"{path}: the header lacks {', '.join(lacking)}; it has {', '.join(reader.fieldnames or [])}. "
                    "Nothing was changed."
                )
            for row in reader:
                yield {name: row[name] or "" for name in columns}
    except (OSError, UnicodeDecodeError) as error:
        told = (
            refused(path, error)
            if isinstance(error, OSError)
            else f"{path}: expected UTF-8 text ({in_our_words(error)})."
        )
        raise BatchError(f"{told} Nothing was changed.") from error
