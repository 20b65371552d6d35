"""What a dropped file is taken for: read as ``check`` reads it, else by a mapping drafted as ``map`` drafts it.

Nothing is loaded.  An answer changes the draft, and with it the rows that are shown.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

from pipelines.desk.tray import Tray, Waiting
from pipelines.errors import BatchError, InputFileError
from pipelines.ingest.mapping_draft import draft_of, read_by
from pipelines.reading.drafting.draft import Draft, Question
from pipelines.reading.file_check import FileCheck, check_file, found_in
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import BY_CODE, FOLDER, load_mapping
from pipelines.settings import Settings, load_settings
from pipelines.workspace import Workspace

_KEPT = 64  # looks
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

    @property
    def ready(self) -> bool:
        """It can be taken in: rows were read, and nothing is asked that nobody has answered."""
        return self.found.refused is None and self.found.rows_taken > 0 and not (self.draft and self.draft.open)

    @property
    def questions(self) -> list[Question]:
        """What the draft had to decide."""
        return self.draft.questions if self.draft else []


def look(workspace: Workspace, file: Waiting) -> Look:
    """Look at a file on the tray; the same look is not taken twice.

    Raises:
        SettingsError: A line of the settings or of a mapping does not mean what it should.
    """
    said = (file.name, file.table, file.asked, tuple(sorted(file.answers.items())))
    return _look(workspace, file.mark, said, _changed(workspace))


def _changed(workspace: Workspace) -> tuple[tuple[str, int], ...]:
    """Return what the reading depends on beside the file: settings and mappings, each with its time."""
    paths = [workspace.settings_file, *sorted((workspace.root / FOLDER).glob("*.toml"))]
    return tuple((path.name, path.stat().st_mtime_ns) for path in paths if path.is_file())


@lru_cache(_KEPT)
def _look(workspace: Workspace, mark: str, said: tuple[object, ...], changed: object) -> Look:
    file = Tray(workspace).get(mark)
    settings = load_settings(workspace.settings_file)
    found = check_file(file.path, settings, file.table)
    if found.refused is None and not file.asked:
        plain = _shown(file, found, None)
        if _by_code(workspace, found):
            named = _drafted(file, found, settings)
            units = any(one.key == "columns.module" and one.proposal for one in named.questions)
            return named if units and named.ready else plain
        if file.table or found.table not in _EASY:
            return plain
        drafted = _drafted(file, found, settings)
        better = drafted.ready and drafted.found.rows_taken > found.rows_taken
        # Days and cars stand in it: repairs most likely, or it has to be asked.
        meant = next((one.proposal for one in drafted.questions if one.key == "table"), found.table)
        return drafted if meant != found.table and (better or meant in (None, "repairs")) else plain
    return _drafted(file, found, settings)


def _by_code(workspace: Workspace, found: FileCheck) -> bool:
    """Say whether a file was read by a mapping for files that name no control units; this one may name them."""
    name = next((note.removeprefix("read by ") for note in found.notes if note.startswith("read by ")), None)
    return name is not None and load_mapping(workspace.root / name).constants.get("module") == BY_CODE


def _drafted(file: Waiting, found: FileCheck, settings: Settings) -> Look:
    """Look at a file through the mapping that is drafted for it."""
    answers = {**({"table": file.table} if file.table else {}), **file.answers}
    try:
        draft = draft_of(file.path, answers)
    except InputFileError as error:
        return Look(file=file, found=_refused(file, found, str(error)))
    try:
        return _shown(file, found_in(file.path, draft.table, read_by(file.path, draft, settings)), draft)
    except BatchError as error:
        return Look(file=file, found=_refused(file, found, str(error)), draft=draft)


def _refused(file: Waiting, found: FileCheck, why: str) -> FileCheck:
    told = why.replace(str(file.path), file.name).removesuffix(" Nothing was run.")
    return FileCheck(file.path, None, 0, 0, found.rejects.clear(), (), told)


def _shown(file: Waiting, found: FileCheck, draft: Draft | None) -> Look:
    # What the reader adds for itself is nothing that stands in the file.
    shown = ["row", *(column.name for column in LAYOUTS[found.table or "scans"].columns)]
    there = [name for name in shown if name in found.first.columns]
    heads = [name for name in there if found.first[name].null_count() < found.first.height]
    cells = [["" if cell is None else str(cell) for cell in row] for row in found.first.select(heads).iter_rows()]
    return Look(file=file, found=found, draft=draft, heads=heads, cells=cells)
