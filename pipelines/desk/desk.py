"""One open desk: its folder, who may speak to it, what waits on its trays, and the turns at the database.

Whoever writes holds the workspace's one lock, as every command does; two requests of this desk wait for each other, and
what another run holds is said.
"""

from __future__ import annotations

import secrets
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from pipelines.desk.keys import Keys
from pipelines.desk.tray import Tray
from pipelines.desk.week_run import Waiter, WeekRun
from pipelines.errors import BusyError
from pipelines.settings import Settings, load_settings
from pipelines.workspace import Workspace, is_workspace

if TYPE_CHECKING:
    from pipelines.storage.warehouse import Warehouse

_KEPT = 32


@dataclass(frozen=True)
class Said:
    """A sentence for the next page.

    Attributes:
        text: What was done, or why it was not.
        good: It was done.
    """

    text: str
    good: bool = True


@dataclass
class Desk:
    """One open desk.

    Attributes:
        folder: The dealer's folder; it need not be a workspace yet.
        keys: The secret of this start.
        today: Tells the day.
        said: Sentences that no page has shown yet.
        run: The week's run.
        on_begun: Called when the folder has become a workspace.
        waiter: Runs the week whenever it is due, while the desk is open.
    """

    folder: Path
    keys: Keys = field(default_factory=Keys)
    today: Callable[[], date] = date.today
    said: list[Said] = field(default_factory=list)
    run: WeekRun = field(default_factory=WeekRun)
    on_begun: Callable[[], object] = lambda: None

    def __post_init__(self) -> None:
        """Get ready; nothing is written."""
        self.waiter = Waiter(self.run)
        self._turn = threading.RLock()
        self._kept: dict[str, object] = {}

    @property
    def begun(self) -> bool:
        """The folder is a workspace."""
        return is_workspace(self.folder)

    @property
    def workspace(self) -> Workspace:
        """The workspace.

        Raises:
            WorkspaceError: The folder is none yet.
        """
        return Workspace.open(self.folder)

    @property
    def settings(self) -> Settings:
        """The settings, as the file has them now.

        Raises:
            SettingsError: A line of it does not mean what it should.
        """
        return load_settings(self.workspace.settings_file)

    @property
    def tray(self) -> Tray:
        """The files that were dropped and are not taken in yet."""
        return Tray(self.workspace)

    @property
    def scans(self) -> Tray:
        """The scans of cars that are looked at before they are bought."""
        return Tray(self.workspace, "buying")

    def tell(self, text: str, good: bool = True) -> None:
        """Have the next page say something."""
        self.said.append(Said(text, good))

    def keep(self, what: object) -> str:
        """Keep what a form came to for the page that its sender is sent on to; return the mark it is asked for by."""
        mark = secrets.token_hex(8)
        self._kept[mark] = what
        while len(self._kept) > _KEPT:
            self._kept.pop(next(iter(self._kept)), None)
        return mark

    def kept(self, mark: str) -> object:
        """Return what was kept, None where it is not there any more."""
        return self._kept.get(mark)

    def heard(self) -> list[Said]:
        """Return what the page says, and forget it."""
        told, self.said = self.said, []
        return told

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Keep other requests of this desk from the database; the workspace's lock keeps other programs from it."""
        with self._turn:
            yield

    @contextmanager
    def looking(self) -> Iterator[Warehouse]:
        """Look at the database as the last run left it.

        Raises:
            WorkspaceError: As ``session.reading`` raises it.
        """
        from pipelines.storage.session import reading

        with ExitStack() as stack:
            with self._turn:
                warehouse = stack.enter_context(reading(self.workspace))
            yield warehouse

    @contextmanager
    def changing(self) -> Iterator[Warehouse]:
        """Hold the workspace's lock and open its database.

        Raises:
            WorkspaceError: As ``session.opened`` raises it, for instance because a run is going on.
        """
        from pipelines.storage.session import opened

        if self.run.running:
            raise BusyError("The week is being run; wait until it ends. Nothing was changed.")
        with self._turn, opened(self.workspace) as warehouse:
            yield warehouse
