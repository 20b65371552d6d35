"""What the words behind a command mean: the folder is the last of them, and a name before it may be left out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from pipelines.errors import BatchError, shell_command
from pipelines.workspace import Workspace, is_workspace

Folder = Annotated[Path, typer.Argument(help="The workspace; else the current folder.")]


def name_or_folder(
    command: str, name: str | None, folder: Path | None, known: Callable[[Workspace, str], bool]
) -> tuple[str | None, Workspace]:
    """Tell name and workspace apart where one word may be either.

    Args:
        command: The command, for the message.
        name: The first word, if there is one.
        folder: The second word, if there is one.
        known: Tells whether a workspace knows a name.

    Returns:
        The name, None where none was said, and the workspace.

    Raises:
        BatchError: The one word is a workspace and a name in the current folder's workspace; or there is no workspace.
    """
    if name is None or folder is not None:
        return name, Workspace.open(folder or Path())
    here, there = is_workspace(Path()), Path(name)
    if not is_workspace(there):
        # A folder that is no workspace is said to be none, unless the word can be a name here.
        return (None, Workspace.open(there)) if there.is_dir() and not here else (name, Workspace.open(Path()))
    if here and known(Workspace.open(Path()), name):
        raise BatchError(
            f"{name!r} is a workspace, and a name in the workspace of the current folder; say which is meant: "
            f"'{shell_command(command, f'./{name}')}' or '{shell_command(command, name, '.')}'. Nothing was changed."
        )
    return None, Workspace.open(there)


def settings_above(path: Path) -> Path:
    """Return the settings file of the workspace that a file lies in, else the one that may be here."""
    homes = [home / "knockon.toml" for home in path.resolve().parents]
    return next((home for home in homes if home.is_file()), Path("knockon.toml"))
