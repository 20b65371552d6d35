"""What a dropped file is taken for: read as ``check`` reads it, else by a mapping drafted as ``map`` drafts it.

Nothing is loaded.  An answer changes the draft, and with it the rows that are shown.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property, lru_cache
from itertools import islice
from pathlib import Path
from typing import Any

from pipelines.desk.tray import Tray, Waiting
from pipelines.errors import BatchError, InputFileError
from pipelines.ingest.mapping_draft import draft_by, read_by
from pipelines.reading.account import codes_in
from pipelines.reading.drafting.draft import CONSTANT, Draft, Question
from pipelines.reading.drafting.pointed import CAR, DAY
from pipelines.reading.file_check import FileCheck, check_file, found_in
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import BY_CODE, FOLDER, load_mapping, load_mappings
from pipelines.reading.mapping.pdf_text import read_pdf
from pipelines.reading.mapping.workbook_reader import sheet_names, sheet_rows
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_file
from pipelines.reading.source import encoding_of, read_bytes, read_text
from pipelines.settings import Settings, load_settings
from pipelines.workspace import Workspace

_KEPT = 64  # looks
_ROWS = 40  # of each sheet, and as many thousand signs of a text: what a file is of stands at its beginning
THIS_CAR = "this car"
_EASY = ("parts", "background")
"""Tables that ask for so little that a list of something else fits them by one heading."""


@dataclass(frozen=True, kw_only=True)
class Look:
    """What there is to say of one file before it is taken in.

    Attributes:
        file: The file.
        found: What was read of it; its ``refused`` says why where nothing was.
        draft: The mapping that it was read by, where none that is there reads it.
        cells: The first rows, as text, under ``heads``.
        heads: The columns that are filled in any of them, and the row.
    """

    file: Waiting
    found: FileCheck
    draft: Draft | None = None
    heads: list[str] = field(default_factory=list)
    cells: list[list[str]] = field(default_factory=list)

    @cached_property
    def codeless(self) -> bool:
        """It is read line by line, as scans, and no text in it looks like a code."""
        return self.draft is not None and "text" in self.draft.tables and not codes_in([words_of(self.file.path, None)])

    @property
    def ready(self) -> bool:
        """It can be taken in: rows were read, and nothing is asked that nobody has answered."""
        return (
            self.found.refused is None
            and self.found.rows_taken > 0
            and not (self.draft and (self.draft.open or self.draft.hanging))
        )

    @property
    def stopped(self) -> list[Question]:
        """The questions whether something may be left unread that were answered by a no."""
        return self.draft.stopped if self.draft else []

    @property
    def undecided(self) -> list[Question]:
        """The questions without an answer that nothing in the file can decide, or on which much hangs."""
        asked = [*self.draft.open, *self.draft.hanging] if self.draft else []
        return [one for one in asked if one not in self.stopped]

    @property
    def questions(self) -> list[Question]:
        """What the draft had to decide."""
        return self.draft.questions if self.draft else []


def look(workspace: Workspace, file: Waiting, bought: date | None = None) -> Look:
    """Look at a file on the tray; the same look is not taken twice.

    Args:
        workspace: Its settings and mappings count.
        file: The file.
        bought: The day, where it is the scan of a car that is not the dealer's: it needs no stock number, and one that
            tells no day is of this one.

    Raises:
        SettingsError: A line of the settings or of a mapping does not mean what it should.
    """
    said, changed = state_of(workspace, file)
    return _look(workspace, file.mark, said, changed, bought)


def state_of(workspace: Workspace, file: Waiting) -> tuple[tuple[object, ...], tuple[tuple[str, int], ...]]:
    """Return all that the look at a file depends on, beside the file itself."""
    told = (tuple(sorted(file.answers.items())), tuple(sorted(file.cars.items())))
    return (file.name, file.table, file.asked, *told), _changed(workspace)


def read_whole(workspace: Workspace, seen: Look) -> Reading:
    """Return all rows of a file as the look at it shows the first ones.

    Raises:
        BatchError: It cannot be read.
    """
    settings = load_settings(workspace.settings_file)
    if seen.draft is not None:
        return read_by(seen.file.path, seen.draft, settings)
    layout = LAYOUTS[seen.found.table or "scans"]
    return read_file(seen.file.path, layout, settings.zone, load_mappings(workspace.root), settings.habits)


def words_of(path: Path, most: int | None = _ROWS) -> str:
    """Return the words of a file, blank where it has none that can be read.

    Args:
        path: The file.
        most: Rows of each sheet, and as many thousand signs of a text; None for all of them.
    """
    try:
        content = read_bytes(path)
        if content.startswith(b"PK"):
            rows = (islice(sheet_rows(path, name), most) for name in sheet_names(path))
            return "\n".join(" ".join(cells) for some in rows for _, cells in some)
        if content.lstrip().startswith(b"%PDF-"):
            return read_pdf(path)
        return read_text(path, encoding_of(content))[: None if most is None else most * 1000]
    except (InputFileError, OSError):
        return ""


def _changed(workspace: Workspace) -> tuple[tuple[str, int], ...]:
    """Return what the reading depends on beside the file: settings and mappings, each with its time."""
    paths = [workspace.settings_file, *sorted((workspace.root / FOLDER).glob("*.toml"))]
    return tuple((path.name, path.stat().st_mtime_ns) for path in paths if path.is_file())


@lru_cache(_KEPT)
def _look(workspace: Workspace, mark: str, said: tuple[object, ...], changed: object, bought: date | None) -> Look:
    file = _as_said(Tray(workspace, "buying" if bought else "tray").get(mark), said)
    settings = load_settings(workspace.settings_file)
    found = check_file(file.path, settings, file.table)
    if (
        file.cars
        and found.refused is None
        and not file.asked
        and not file.answers
        and (known := _mapping(workspace, found))
    ):
        return _by(file, found, settings, draft_from(known))
    if found.refused is None and not file.asked and not file.cars:
        plain = _shown(file, found, None)
        if _by_code(workspace, found):
            named = _drafted(file, found, settings, bought)
            units = any(one.key == "columns.module" and one.proposal for one in named.questions)
            return named if units and named.ready else plain
        if file.table or found.table not in _EASY:
            return plain
        drafted = _drafted(file, found, settings, bought)
        better = drafted.ready and drafted.found.rows_taken > found.rows_taken
        # Days or cars stand in it: repairs most likely, or it has to be asked.
        meant = next((one.proposal for one in drafted.questions if one.key == "table"), found.table)
        return drafted if meant != found.table and (better or meant in (None, "repairs")) else plain
    return _drafted(file, found, settings, bought)


def _as_said(file: Waiting, said: tuple[Any, ...]) -> Waiting:
    """Return a file with what was said of it, or might be, as ``state_of`` has it."""
    _, table, asked, answers, cars = said
    return replace(file, table=table, asked=asked, answers=dict(answers), cars=dict(cars))


def _by_code(workspace: Workspace, found: FileCheck) -> bool:
    """Say whether a file was read by a mapping for files that name no control units; this one may name them."""
    place = _mapping(workspace, found)
    return place is not None and load_mapping(place).constants.get("module") == BY_CODE


def _mapping(workspace: Workspace, found: FileCheck) -> Path | None:
    """Return the mapping of the workspace that a file was read by; None where there is none."""
    name = next((note.removeprefix("read by ") for note in found.notes if note.startswith("read by ")), None)
    return None if name is None else workspace.root / name


def draft_from(place: Path) -> Draft:
    """Return a mapping as a draft that more can be written into; nothing is asked in it."""
    draft, table = Draft(), ""
    for line in place.read_text(encoding="utf-8").splitlines():
        if re.fullmatch(r"\[[\w.]+\]", line):
            table = line[1:-1]
        elif line.strip():
            draft.line(line, table)
    return draft


def _drafted(file: Waiting, found: FileCheck, settings: Settings, bought: date | None) -> Look:
    """Look at a file through the mapping that is drafted for it."""
    answers = {**({"table": file.table} if file.table else {}), **file.answers}
    try:
        draft = draft_by(file.path, answers, settings)
        if bought is not None and (known := _of_this_car(draft, bought)):
            file = replace(file, answers={**file.answers, **known})
            draft = draft_by(file.path, {**answers, **known}, settings)
    except InputFileError as error:
        return Look(file=file, found=_refused(file, found, str(error)))
    return _by(file, found, settings, draft)


def _by(file: Waiting, found: FileCheck, settings: Settings, draft: Draft) -> Look:
    """Look at a file through a mapping, the cars that it calls otherwise called as the stock list has them."""
    for told, vehicle in file.cars.items():
        draft.put(told, vehicle, table="values.vehicle")
    try:
        return _shown(file, found_in(file.path, draft.table, read_by(file.path, draft, settings)), draft)
    except BatchError as error:
        return Look(file=file, found=_refused(file, found, str(error)), draft=draft)


def _of_this_car(draft: Draft, day: date) -> dict[str, str]:
    """Answer what a car that is not the dealer's needs no line or column for: which one it is, and when it is read."""
    given = {CAR: THIS_CAR, "columns.vehicle": THIS_CAR, DAY: day.isoformat(), "columns.scanned_at": day.isoformat()}
    return {one.key: f"{CONSTANT}{given[one.key]}" for one in draft.open if one.key in given}


def _refused(file: Waiting, found: FileCheck, why: str) -> FileCheck:
    told = why.replace(str(file.path), file.name).removesuffix(" Nothing was run.")
    return FileCheck(file.path, None, 0, 0, found.rejects.clear(), (), told)


def _shown(file: Waiting, found: FileCheck, draft: Draft | None) -> Look:
    # What the reader adds for itself is nothing that stands in the file.
    shown = ["row", *(column.name for column in LAYOUTS[found.table or "scans"].mappable)]
    there = [name for name in shown if name in found.first.columns]
    heads = [name for name in there if found.first[name].null_count() < found.first.height]
    cells = [["" if cell is None else str(cell) for cell in row] for row in found.first.select(heads).iter_rows()]
    return Look(file=file, found=found, draft=draft, heads=heads, cells=cells)
