"""Names that nobody but the dealer can tell: are these two one part, and what is this control unit?

Asked once, of the files on the tray and of what was taken in alike; the answers stand in the dealer's own words, and
nothing is merged before there is one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from starlette.responses import RedirectResponse, Response

from analysis.texts import desk_own_text as say
from pipelines.desk.desk import Desk
from pipelines.desk.question import Asked
from pipelines.errors import BatchError

if TYPE_CHECKING:
    from pipelines.batch.part_names import LookAlike
    from pipelines.batch.unit_names import UnknownUnit
    from pipelines.desk.tray import Waiting

_SHOWN = 12


@dataclass(frozen=True)
class OwnNames:
    """What is asked.

    Attributes:
        parts: Every two names that may be one part.
        units: The control units that no list knows.
        choices: The modules that one of them may be, each with what it is.
    """

    parts: list[LookAlike] = field(default_factory=list)
    units: list[UnknownUnit] = field(default_factory=list)
    choices: dict[str, str] = field(default_factory=dict)

    @property
    def more(self) -> int:
        """How many are not shown yet."""
        return max(len(self.parts) - _SHOWN, 0) + max(len(self.units) - _SHOWN, 0)

    @property
    def shown(self) -> OwnNames:
        """The first of each."""
        return replace(self, parts=self.parts[:_SHOWN], units=self.units[:_SHOWN])


def open_names(desk: Desk, files: Sequence[Waiting]) -> OwnNames:
    """Return what is asked of the files on the tray that are ready, and of what was taken in."""
    if not files and not desk.workspace.database.exists():
        return OwnNames()
    from pipelines.batch import part_names, unit_names
    from pipelines.desk.look import look
    from pipelines.desk.named import named_in
    from pipelines.ingest.own_words import own_words

    looks = [one for one in (look(desk.workspace, file) for file in files) if one.ready]
    named = [named_in(desk.workspace, one) for one in looks]
    modules = sum((one.modules for one in named), Counter[str]())
    priced = [row for one in named for row in one.priced]
    fitted = [row for one in named for row in one.fitted]
    if desk.workspace.database.exists():
        try:
            with desk.looking() as warehouse:
                book, jobs = part_names.taken_in(warehouse)
                modules.update(unit_names.taken_in(warehouse))
            priced, fitted = book + priced, jobs + fitted
        except BatchError:  # a run holds it: asked when it has ended
            return OwnNames()
    own, _ = own_words(desk.workspace.root)
    units = unit_names.unknown_units(modules, own)
    return OwnNames(part_names.alike(priced, fitted, own), units, unit_names.known_units() if units else {})


def same_part(desk: Desk, asked: Asked) -> Response:
    """Take the answer whether two names are one part."""
    from pipelines.ingest.own_words import say_parts

    name, part, answer = asked.form["name"], asked.form["part"], asked.form["answer"]
    with desk.turn():
        found = [one for one in open_names(desk, desk.tray.files()).parts if (one.spelling, one.part) == (name, part)]
        if not found or answer not in ("yes", "no"):
            raise BatchError(say.NO_PAIR)
        with desk.workspace.lock():
            say_parts(desk.workspace.root, [(name, part, answer == "yes")])
    desk.tell(say.one_part(name, part) if answer == "yes" else say.two_parts(name, part))
    return RedirectResponse("/", 303)


def unit(desk: Desk, asked: Asked) -> Response:
    """Take the answer what a control unit is."""
    from pipelines.batch import unit_names

    with desk.turn():
        found = [one for one in open_names(desk, desk.tray.files()).units if one.spelling == asked.form["unit"]]
        if not found or not asked.form["module"]:
            raise BatchError(say.NO_UNIT)
        with desk.workspace.lock():
            unit_names.answer(desk.workspace, found[0], asked.form["module"], asked.form["name"])
    desk.tell(say.unit_said(found[0].spelling))
    return RedirectResponse("/", 303)
