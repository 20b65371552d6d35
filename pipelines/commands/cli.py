"""The program's entry: its commands put together, ``main`` that runs one of them, ``run`` that ends with it.

Exit codes: 0 all went well, 1 nothing could be read or a fault in files or
settings, 2 the command was not understood, 130 interrupted.  Heavy libraries
are imported inside the commands, so that help answers at once.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Annotated

import typer

from pipelines.commands import (
    appraise,
    backup,
    check,
    demo,
    desk,
    init,
    log,
    parts,
    restore,
    schedule,
    share,
    standing,
    trace,
    undo,
    verify,
    weekly,
    why,
)
from pipelines.commands import map as mapping
from pipelines.errors import BatchError, refused

INTERRUPTED = 130
_CIRCLES = 200_000  # new objects between two looks for circles

# Read when numpy is loaded, which no module above does.  The products of matrices here are small: threads that wait
# for each other cost three times what they do.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

app = typer.Typer(add_completion=False, no_args_is_help=True, rich_markup_mode=None, pretty_exceptions_enable=False)


def _show_version(wanted: bool) -> None:
    if not wanted:
        return
    import platform
    import re
    from importlib.metadata import requires, version

    names = [re.split(r"[\s<>=!~;\[]", line)[0] for line in requires("knockon") or [] if "extra ==" not in line]
    typer.echo(f"knockon {version('knockon')}")
    typer.echo(f"python {platform.python_version()} on {platform.platform()}")
    for name in sorted(names):
        typer.echo(f"{name} {version(name)}")
    raise typer.Exit


@app.callback(epilog="Example: knockon demo")
def knockon(
    _version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Show the versions in use, then stop."),
    ] = False,
) -> None:
    """Learn from a dealer's own scans and repairs which cheap part clears a page of fault codes."""


_COMMANDS: dict[str, tuple[Callable[..., None], str]] = {
    "init": (init.init, init.EXAMPLE),
    "demo": (demo.demo, demo.EXAMPLE),
    "desk": (desk.desk, desk.EXAMPLE),
    "weekly": (weekly.weekly, weekly.EXAMPLE),
    "check": (check.check, check.EXAMPLE),
    "map": (mapping.draft, mapping.EXAMPLE),
    "parts": (parts.parts, parts.EXAMPLE),
    "log": (log.log, log.EXAMPLE),
    "why": (why.why, why.EXAMPLE),
    "appraise": (appraise.appraise, appraise.EXAMPLE),
    "trace": (trace.trace, trace.EXAMPLE),
    "standing": (standing.standing, standing.EXAMPLE),
    "share": (share.share, share.EXAMPLE),
    "schedule": (schedule.schedule, schedule.EXAMPLE),
    "backup": (backup.backup, backup.EXAMPLE),
    "restore": (restore.restore, restore.EXAMPLE),
    "verify": (verify.verify, verify.EXAMPLE),
    "undo": (undo.undo, undo.EXAMPLE),
}
for _name, (_command, _example) in _COMMANDS.items():
    app.command(_name, epilog=f"Example: {_example}")(_command)


def run() -> int:
    """Run the command of the command line, as a process of its own that ends with it; return the exit code.

    What is still in memory then goes with the process: looking through it for circles would take a tenth of a second,
    and looking for them as often as Python does while it loads the libraries a quarter of one.
    """
    gc.set_threshold(_CIRCLES)
    ended = main()
    gc.freeze()
    return ended


@contextmanager
def for_the_owner_alone() -> Iterator[None]:
    """Let nobody but its owner read what is written inside the block, whatever library writes it."""
    before = os.umask(0o077)
    try:
        yield
    finally:
        os.umask(before)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Args:
        arguments: The words after ``knockon``; None takes those of the command line.

    Returns:
        The exit code.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a console that lacks a letter shows "?" instead of stopping the run
    try:
        with for_the_owner_alone():
            app(None if arguments is None else list(arguments), prog_name="knockon")
    except BatchError as error:
        print("\n".join([f"knockon: {error}", *getattr(error, "__notes__", [])]), file=sys.stderr)
        return 1
    except OSError as error:
        print(f"knockon: {refused('a file', error)} Nothing more was done.", file=sys.stderr)
        return 1
    except SystemExit as ended:
        if ended.code == INTERRUPTED:
            print("knockon: interrupted. Files taken in so far stay taken in; run it again.", file=sys.stderr)
        return ended.code if isinstance(ended.code, int) else 0
    return 0
