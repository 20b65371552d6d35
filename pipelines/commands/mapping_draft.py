"""Draft a mapping and try it on its file at once: what was guessed, why, and the first rows as they would be read."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

from analysis.vocabulary.modules import ModuleIndex
from pipelines.errors import BatchError, InputFileError, refused, shell_command, why_refused
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.draft_mapping import draft_mapping
from pipelines.reading.mapping.mapping_file import FOLDER, load_mapping
from pipelines.reading.recognise import read_mapped
from pipelines.settings import Settings
from pipelines.storage.sql_models import reference_table

_ROWS = 10
_MOST_REJECTS = 5
_HEAD = """\
# A draft for files like {name}. Every line is a guess: mend it, then try 'knockon check FILE'.
# The reasons stand below the draft where 'knockon map' printed it. Left side: columns of the scan layout.
"""


def draft_file(path: Path, out: Path | None, settings: Settings) -> list[str]:
    """Draft the mapping of an unknown export and try it.

    Args:
        path: The file.
        out: Where to write the draft; None: only show it.
        settings: For the time zone of local times.

    Returns:
        Lines for the user: the draft, its reasons, and the first ten rows or why there are none.

    Raises:
        BatchError: The file cannot be read at all, or ``out`` is there already.
    """
    if not path.is_file():
        found = "is a folder" if path.is_dir() else "is a device or a pipe" if path.exists() else "is not there"
        raise InputFileError(f"{path} {found}; expected a file to look at. Nothing was written.")
    index = ModuleIndex.from_rows(reference_table("modules").iter_rows(named=True))
    try:
        draft = draft_mapping(path, lambda text: index.canonical(text)[1])
    except OSError as error:
        raise InputFileError(f"{path}: could not be opened ({why_refused(error)}).") from error
    text = _HEAD.format(name=ascii(path.name)) + "\n" + draft.toml()
    if out is not None:
        if out.exists():
            raise BatchError(f"{out}: is there already; name another file with --out. Nothing was written.")
        try:
            out.parent.mkdir(parents=True, exist_ok=True)
            out.write_text(text, encoding="utf-8", newline="\n")
        except OSError as error:
            raise BatchError(f"{refused(out, error)} Nothing was written.") from error
    return [*_shown(text, draft), "", *_tried(path, text, settings), "", *_next(path, out)]


def _shown(text: str, draft: Draft) -> Iterator[str]:
    yield from text.splitlines()
    yield ""
    yield "Reasons:"
    yield from (f"- {reason}" for reason in draft.reasons)


def _tried(path: Path, text: str, settings: Settings) -> Iterator[str]:
    """Read the file by the draft and show what comes out."""
    with tempfile.TemporaryDirectory() as folder:
        trial = Path(folder) / "draft.toml"
        trial.write_text(text, encoding="utf-8")
        try:
            reading = read_mapped(path, load_mapping(trial), settings.zone)
        except BatchError as error:
            yield f"The draft cannot read the file yet: {str(error).replace(f'{FOLDER}/draft.toml', 'draft')}"
            return
    yield f"Read by this draft: {reading.rows.height} of {reading.rows_read} rows. The first {_ROWS}:"
    filled = [name for name in reading.rows.columns if reading.rows[name].null_count() < reading.rows.height]
    yield " | ".join(filled)
    for row in reading.rows.head(_ROWS).select(filled).iter_rows():
        yield " | ".join("" if cell is None else str(cell) for cell in row)
    for row, column, value, why in reading.rejects.head(_MOST_REJECTS).iter_rows():
        yield f"refused: row {row}, {column or 'the whole row'}, {value!r}: {why}"
    yield from (f"note: {note}" for note in reading.notes[1:])


def _next(path: Path, out: Path | None) -> Iterator[str]:
    if out is None:
        yield f"Next:    {shell_command('map', path, '--out', f'WORKSPACE/{FOLDER}/NAME.toml')} writes it"
    else:
        yield f"wrote {out}"
        yield f"Next:    mend {out}, then: {shell_command('check', path, '--mapping', out)}"
