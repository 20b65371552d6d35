"""Draft a mapping, ask what has to be decided, and try it on its file at once.

In a terminal every guess is a question with the proposed answer and why, and ten rows as they
would be read behind each answer that changes something.  Without one, ``--yes`` takes the
proposals, and refuses where nothing in the file can decide.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

from analysis.vocabulary.modules import ModuleIndex
from pipelines.errors import BatchError, InputFileError, refused, shell_command, why_refused
from pipelines.reading.account import NOT_ALL
from pipelines.reading.drafting.doubts import doubts_of
from pipelines.reading.drafting.draft import NOTHING, Draft, Question
from pipelines.reading.drafting.draft_mapping import draft_mapping
from pipelines.reading.mapping.mapping_file import FOLDER, load_mapping
from pipelines.reading.mapping.mapping_file import Mapping as MappingFile
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_mapped
from pipelines.settings import Settings
from pipelines.storage.sql_models import reference_table

_ROWS = 10
_MOST_REJECTS = 5
_HEAD = """\
# A draft for files like {name}. Every line is a guess: mend it, then try 'knockon check FILE'.
# The reasons stand below the draft where 'knockon map' printed it. Left side: columns of the table.
"""
UNREAD = "unread"
"""The key of the answer that what a draft does not read may be left out."""
Ask = Callable[[str, Sequence[str]], str]


def draft_file(path: Path, out: Path | None, settings: Settings, answers: Mapping[str, str] | None = None) -> list[str]:
    """Draft the mapping of an unknown export and try it.

    Args:
        path: The file.
        out: Where to write the draft; None: only show it.
        settings: For the time zone of local times.
        answers: What was answered, by the key of each question.

    Returns:
        Lines for the user: the draft, its reasons, what is still open, and the first ten rows or why there are none.

    Raises:
        BatchError: The file cannot be read at all, or ``out`` is there already.
    """
    if out is not None and out.exists():
        raise BatchError(f"{out}: is there already; name another file with --out. Nothing was written.")
    draft = draft_by(path, answers or {}, settings)
    text = text_of(path, draft)
    if out is not None:
        try:
            out.parent.mkdir(parents=True, exist_ok=True)
            out.write_text(text, encoding="utf-8", newline="\n")
        except OSError as error:
            raise BatchError(f"{refused(out, error)} Nothing was written.") from error
    return [*_shown(text, draft), "", *_tried(path, draft, settings), "", *_next(path, out)]


def check_decided(path: Path, settings: Settings, answers: Mapping[str, str]) -> None:
    """Refuse a file of which something has to be decided that neither it nor an answer decides, or not all is read.

    Raises:
        BatchError: There is such a thing, and the message names each question and how to answer it; or the draft
            leaves codes, cars or days of the file unread, and the message counts them.
    """
    draft = draft_by(path, answers, settings)
    if draft.stopped:
        told = "; ".join(f"{asked.asks} {asked.why}: {asked.key}={draft.answers[asked.key]}" for asked in draft.stopped)
        raise BatchError(f"{path}: is read by the answer yes alone. {told}. Nothing was written.")
    asked = draft.open
    if asked:
        told = "; ".join(f"{question.asks} {question.why}: --answer '{question.key}=...'" for question in asked)
        raise BatchError(
            f"{path}: nothing in the file can decide {len(asked)} of the questions. {told}. Nothing was written."
        )
    if draft.answers.get(UNREAD) == "yes":
        return
    reading, mapping = _read_by(path, draft, settings)
    doubts = doubts_of(path, mapping, reading)
    if doubts:
        raise BatchError(
            f"{path}: the draft would not read all of it: {'; '.join(doubts)}. Write the mapping without --yes and "
            f"mend it, or say that the rest may be left out: --answer '{UNREAD}=yes'. Nothing was written."
        )


def ask_answers(path: Path, settings: Settings, ask: Ask, say: Callable[[str], None]) -> dict[str, str]:
    """Ask question by question, the proposal being taken by Enter, and show ten rows as they would be read.

    Args:
        path: The file.
        settings: For the time zone of local times.
        ask: Puts a question, with answers that can be completed, and returns what was typed.
        say: Shows a line.

    Returns:
        The answers by the key of each question.
    """
    answers: dict[str, str] = {}
    shown: list[str] = []
    while True:
        draft = draft_by(path, answers, settings)
        rows = list(_tried(path, draft, settings))
        if rows != shown:
            shown = rows
            for line in rows:
                say(line)
        question = next((asked for asked in draft.questions if asked.key not in answers), None)
        if question is None:
            return answers
        answers[question.key] = _answered(question, ask, say)


def _answered(question: Question, ask: Ask, say: Callable[[str], None]) -> str:
    say("")
    say(f"{question.asks}")
    if question.choices:
        shown = (question.means.get(choice, choice) for choice in question.choices)
        say(f"  one of: {', '.join(shown)}; {NOTHING} for none")
    say(f"  {question.why}")
    proposed = f"Enter takes {question.proposal}" if question.proposal is not None else "nothing is proposed"
    while True:
        answer = ask(f"{question.key} ({proposed})", question.choices).strip()
        if not answer and question.proposal is not None:
            return question.proposal
        if not answer or (question.choices and answer != NOTHING and not _allowed(answer, question)):
            say("That is none of the answers; look again.")
            continue
        return answer


def _allowed(answer: str, question: Question) -> bool:
    return answer in question.choices or answer.startswith(("=", "[", "%"))


_IN_MILES = ("GBP", "USD")
"""Currencies of countries whose cars count miles: there the unit of the settings may be one that nobody chose."""


def draft_by(path: Path, answers: Mapping[str, str], settings: Settings) -> Draft:
    """Draft the mapping of an unknown export; the settings decide what its numbers count where it does not say it.

    Args:
        path: The file.
        answers: What was answered so far, by the key of each question.
        settings: What an hour of work costs, and what an odometer counts.

    Raises:
        InputFileError: It is no file, or cannot be read at all.
    """
    unit = settings.odometer_unit
    told = None if unit == "km" and settings.currency in _IN_MILES else unit
    return draft_of(path, answers, settings.labour_rate, told)


def draft_of(
    path: Path, answers: Mapping[str, str], labour_rate: float | None = None, odometer_unit: str | None = None
) -> Draft:
    """Draft the mapping of an unknown export.

    Args:
        path: The file.
        answers: What was answered so far, by the key of each question.
        labour_rate: What an hour of work costs by the settings; None: it is asked where it is needed.
        odometer_unit: What a mileage counts whose file does not say it, by the settings; None: it is asked.

    Returns:
        The draft, with each of its guesses as a question.

    Raises:
        InputFileError: It is no file, or cannot be read at all.
    """
    if not path.is_file():
        found = "is a folder" if path.is_dir() else "is a device or a pipe" if path.exists() else "is not there"
        raise InputFileError(f"{path} {found}; expected a file to look at. Nothing was written.")
    index = ModuleIndex.from_rows(reference_table("modules").iter_rows(named=True))
    try:
        return draft_mapping(path, lambda text: index.canonical(text)[1], answers, labour_rate, odometer_unit)
    except OSError as error:
        raise InputFileError(f"{path}: could not be opened ({why_refused(error)}).") from error


def _shown(text: str, draft: Draft) -> Iterator[str]:
    yield from text.splitlines()
    yield ""
    yield "Reasons:"
    yield from (f"- {reason}" for reason in draft.reasons)
    if draft.open:
        yield ""
        yield "Still to be answered; nothing in the file can decide, or not so:"
        yield from (f"- {asked.key}: {asked.asks} {asked.why}" for asked in draft.open)


def text_of(path: Path, draft: Draft) -> str:
    """Return a draft as the text of a mapping file, with a word of where it comes from."""
    return _HEAD.format(name=ascii(path.name)) + "\n" + draft.toml()


def read_by(path: Path, draft: Draft, settings: Settings) -> Reading:
    """Read a file by its draft.

    Args:
        path: The file.
        draft: Its draft.
        settings: For the time zone of local times.

    Raises:
        BatchError: The draft cannot read it yet; the message says why.
    """
    return _read_by(path, draft, settings)[0]


def _read_by(path: Path, draft: Draft, settings: Settings) -> tuple[Reading, MappingFile]:
    with tempfile.TemporaryDirectory() as folder:
        trial = Path(folder) / "draft.toml"
        trial.write_text(draft.toml(), encoding="utf-8")
        try:
            mapping = load_mapping(trial)
            return read_mapped(path, mapping, settings.zone), mapping
        except BatchError as error:
            why = str(error).replace(f"{FOLDER}/draft.toml", "draft")
            raise BatchError(f"The draft cannot read the file yet: {why}") from error


def _tried(path: Path, draft: Draft, settings: Settings) -> Iterator[str]:
    """Read the file by the draft and show what comes out."""
    try:
        reading = read_by(path, draft, settings)
    except BatchError as error:
        yield str(error)
        return
    yield f"Read by this draft: {reading.rows.height} of {reading.rows_read} rows. The first {_ROWS}:"
    filled = [name for name in reading.rows.columns if reading.rows[name].null_count() < reading.rows.height]
    yield " | ".join(filled)
    for row in reading.rows.head(_ROWS).select(filled).iter_rows():
        yield " | ".join("" if cell is None else str(cell) for cell in row)
    for row, column, value, why in reading.rejects.head(_MOST_REJECTS).iter_rows():
        yield f"refused: row {row}, {column or 'the whole row'}, {value!r}: {why}"
    if reading.account.sentence():
        yield f"{reading.account.sentence()}."
    yield from (f"note: {note}" for note in reading.notes[1:] if not note.startswith(NOT_ALL))


def _next(path: Path, out: Path | None) -> Iterator[str]:
    if out is None:
        yield f"Next:    {shell_command('map', path, '--out', f'WORKSPACE/{FOLDER}/NAME.toml')} writes it"
    else:
        yield f"wrote {out}"
        yield f"Next:    mend {out}, then: {shell_command('check', path, '--mapping', out)}"
