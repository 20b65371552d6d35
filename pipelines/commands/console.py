"""What the user sees: progress while a run works, and the summary at its end.

Progress goes to the error stream and only where a person is watching it, so
that the output can be kept or passed on; the summary is a plain table.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.table import Table
from rich.text import Text

from pipelines.batch.summary import summary_rows
from pipelines.errors import BatchError
from pipelines.reading.account import NOT_ALL

if TYPE_CHECKING:
    from pipelines.batch.weekly import WeekReport
    from pipelines.reading.file_check import FileCheck
    from pipelines.report.sections import Section
    from pipelines.storage.undo import Taken

SHOWN = 8


def say(line: str) -> None:
    """Print one line of plain text on the output."""
    print(line, flush=True)


def warn(line: str) -> None:
    """Print one line of plain text on the error stream."""
    print(line, file=sys.stderr, flush=True)


def ask(question: str, names: Sequence[str]) -> str:
    """Put a question and return the answer; the tabulator key completes the names, where the system can do it.

    Raises:
        BatchError: The input ended before there was an answer.
    """
    try:
        import readline
    except ImportError:  # pragma: no cover - on Windows only
        pass
    else:
        readline.set_completer_delims("\n")
        readline.set_completer(lambda text, place: dict(enumerate(n for n in names if n.startswith(text))).get(place))
        readline.parse_and_bind("tab: complete")
    try:
        return input(f"{question}: ")
    except EOFError as error:
        raise BatchError("The input ended before the job was complete. Nothing was written.") from error


@contextmanager
def progress() -> Iterator[Callable[[str], None]]:
    """Give a function that shows what is being done, while a person watches; else one that is silent."""
    console = Console(stderr=True)
    if not console.is_terminal:
        yield lambda _: None
        return
    with console.status("starting") as status:
        yield lambda doing: status.update(Text(doing))


def show_summary(report: WeekReport, next_command: str) -> None:
    """Print what a run read, skipped, refused, masked and could not prove, and where its report is.

    Args:
        report: What the run left behind.
        next_command: What the user will want to run next.
    """
    _print_table(("count", "what", "why"), list(summary_rows(report.counts)), numbers=(0,))
    if report.notes:
        say("")
        say(f"Notes ({min(SHOWN, len(report.notes))} of {len(report.notes)}; all are in run.json):")
        for note in report.notes[:SHOWN]:
            say(f"- {note}")
    say("")
    say(f"Seconds: {sum(report.timings.values()):.1f}")
    say(f"Report:  {report.folder / 'index.html'}")
    say(f"Next:    {next_command}")


def show_check(found: FileCheck) -> None:
    """Print what would be taken and refused of one file."""
    if found.refused is not None:
        say(f"{found.path}: nothing would be taken")
        say(f"  {found.refused}")
        return
    refused = found.rows_read - found.rows_taken
    say(f"{found.path}: {found.table}, {found.rows_read} rows: {found.rows_taken} taken, {refused} refused")
    if found.account:
        say(f"  {found.account}")
    for note in found.notes:
        if not note.startswith(NOT_ALL):
            say(f"  note: {note}")
    if found.rejects.height:
        rows = found.rejects.head(SHOWN).select("row", "column", "value", "why").rows()
        _print_table(("row", "column", "value", "why"), [tuple(map(_cell, row)) for row in rows], numbers=(0,))
        if found.rejects.height > SHOWN:
            say(f"  ... and {found.rejects.height - SHOWN} more")


def show_taken(files: Sequence[Taken]) -> None:
    """Print the files that were taken in, the latest first."""
    head = ("run", "week", "file", "hash", "rows", "known before")
    rows = [
        (
            file.run or "not ended",
            file.week,
            file.name,
            file.sha256[:12],
            f"{file.rows_loaded}",
            f"{file.rows_repeated}",
        )
        for file in reversed(files)
    ]
    _print_table(head, rows, numbers=(4, 5))


def show_made(made: Sequence[Path], folder: Path) -> None:
    """Print the files and folders that ``init`` made."""
    for path in made:
        say(f"made {path.relative_to(folder.resolve())}{'/' if path.is_dir() else ''}")


def show_sections(sections: Iterable[Section]) -> None:
    """Print titled lines and tables one after the other."""
    for section in sections:
        say(section.title)
        for line in section.lines:
            say(f"  {line}")
        if section.rows:
            _print_table(section.head, section.rows, section.numbers)
        say("")


def _cell(value: object) -> str:
    return "" if value is None else str(value)


def _print_table(head: Sequence[str], rows: Sequence[Sequence[str]], numbers: Sequence[int]) -> None:
    table = Table(box=None, pad_edge=False)
    for place, name in enumerate(head):
        table.add_column(name, justify="right" if place in numbers else "left", overflow="fold")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))  # Text: a value out of a file is never read as markup
    Console().print(table)
