"""What must be said beside a fix: the caution, the first check, the periodic inspection.

The reference tables hold words of parts and modules with a sentence for each class
of component.  A sentence follows the part itself and the module it sits in, not every
module whose codes it may clear.  What follows the codes is said of the car, whatever is
done to it: an airbag code open on it is told at every line, by the module that names it or
by the number that the standard keeps for that system.  The sentences are common practice,
not a promise about any car.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass

import polars as pl

from analysis.diagnosis.inputs.text_matching import read_wording
from analysis.texts import action_text as say
from analysis.vocabulary.codes import code_to_bytes

EU = frozenset(re.findall("..", "ATBEBGCYCZDEDKEEESFIFRGRHRHUIEITLTLULVMTNLPLPTROSESISK"))
WEAKEST_FIRST = ("none", "note", "lamp")


@dataclass(frozen=True)
class Advice:
    """What stands beside one fix; texts are blank where nothing is known."""

    caution: str
    check_first: str
    inspection: str


@dataclass(frozen=True)
class OpenCode:
    """A code that is open on a car.

    Attributes:
        module: Canonical control unit.
        key: Its key, ``SRS:B0091`` for instance.
        status: The status word, may be blank.
    """

    module: str
    key: str
    status: str = ""


@dataclass(frozen=True)
class _System:
    """A system whose codes are told of the car: its modules, its numbers in the standard, its name, what to mind."""

    modules: set[str]
    numbers: list[tuple[tuple[int, int], tuple[int, int]]]
    name: str
    caution: str

    def numbers_have(self, code: OpenCode) -> bool:
        """Say whether the standard keeps the code's number for this system; a maker's own code never."""
        short, _, maker = code.key.partition(":")[2].partition("@")
        if maker or not _STANDARD.fullmatch(short):
            return False
        return any(first <= code_to_bytes(short) <= last for first, last in self.numbers)


_STANDARD = re.compile("[PCBU][0-3][0-9A-F]{3}")
_NO_ROAD = ("airbag or belt", "brake or stability", "steering", "high-voltage")
"""Systems whose warning keeps a car off the road, by the name that the table gives them."""
_OFF = "history"
"""The status of a code whose warning is not on."""


class Adviser:
    """Looks fixes up in the reference tables."""

    def __init__(self, cautions: pl.DataFrame, first_checks: pl.DataFrame, inspection: pl.DataFrame, country: str):
        """Read the tables once.

        Args:
            cautions: words, modules (each ``;``-separated or null), follows (``part``: name, synonyms or the module
                it sits in; ``name``: its own name alone; ``car``: any code open on the car, by its module or by
                ``codes``, standard codes and ranges of them), system (names those of the car), caution.
            first_checks: words, check_first; the first row that fits the name is taken, else one that fits a synonym.
            inspection: countries, module, code (a prefix or null), inspection, warning.
            country: Two letters; members of the European Union answer to ``EU`` as well.
        """
        self._cautions = [
            (_phrases(words), _items(modules), follows, caution)
            for words, modules, follows, caution in cautions.filter(pl.col("follows") != "car")
            .select("words", "modules", "follows", "caution")
            .iter_rows()
        ]
        self._systems = [
            _System(_items(modules), _ranges(codes), system, caution)
            for modules, codes, system, caution in cautions.filter(pl.col("follows") == "car")
            .select("modules", "codes", "system", "caution")
            .iter_rows()
        ]
        self._checks = [
            (_phrases(words), check) for words, check in first_checks.select("words", "check_first").iter_rows()
        ]
        mine = {country.upper()} | ({"EU"} if country.upper() in EU else set())
        table = inspection.select("countries", "module", "code", "inspection").iter_rows()
        self._inspection = [(m, c or "", item) for countries, m, c, item in table if mine & _items(countries)]
        # The same fixes and codes stand on many cars: each is looked up once.
        self._told: dict[tuple[str, tuple[str, ...], str], tuple[str, str]] = {}
        self._meant: dict[tuple[str, str], _System | None] = {}

    def advise(self, part: str, wordings: list[str], home: str, clears: list[tuple[str, str]]) -> Advice:
        """Return what stands beside a fix.

        Args:
            part: The part's name.
            wordings: Its synonyms.
            home: The module it sits in, blank where that is not known.
            clears: ``(module, code without module)`` of the codes it should clear.

        Returns:
            The advice; cautions of every class that fits, in the table's order.
        """
        asked = (part, tuple(wordings), home)
        if asked not in self._told:
            self._told[asked] = self._look_up(part, wordings, home)
        return Advice(*self._told[asked], self.item(clears))

    def _look_up(self, part: str, wordings: list[str], home: str) -> tuple[str, str]:
        name, others = _said([part]), _said(wordings)
        fits = [
            caution
            for phrases, homes, follows, caution in self._cautions
            if _spoken(phrases, name if follows == "name" else name + others) or homes & {home}
        ]
        checks = [check for said in (name, others) for phrases, check in self._checks if _spoken(phrases, said)]
        return " ".join(dict.fromkeys(fits)), checks[0] if checks else ""

    def on_car(self, codes: Iterable[OpenCode]) -> str:
        """Return what the codes open on a car ask for at every line of it: a sentence a system, then where to drive it.

        Args:
            codes: All of them, also those that are stored only or looked past.

        Returns:
            Blank where no code asks for anything.
        """
        meant = {code: self._system_of(code) for code in codes}
        found = [(system, [code for code in meant if meant[code] is system]) for system in self._systems]
        told = [
            say.open_code(system.name, sorted(code.key for code in mine), system.caution)
            for system, mine in found
            if mine
        ]
        lit = [system.name for system, mine in found if any(code.status != _OFF for code in mine)]
        off_road = [name for name in lit if name in _NO_ROAD]
        return " ".join([*told, *([say.drive_rule(off_road)] if off_road else [])])

    def _system_of(self, code: OpenCode) -> _System | None:
        """Return the system that a code speaks of: by its number where the standard tells, else by its module."""
        asked = code.module, code.key
        if asked not in self._meant:
            by_number = (system for system in self._systems if system.numbers_have(code))
            by_module = (system for system in self._systems if code.module in system.modules)
            self._meant[asked] = next(by_number, None) or next(by_module, None)
        return self._meant[asked]

    def grave(self, code: OpenCode) -> bool:
        """Say whether a code speaks of brakes, steering, restraint or high voltage: its warning has to be gone."""
        system = self._system_of(code)
        return system is not None and system.name in _NO_ROAD

    def item(self, clears: list[tuple[str, str]]) -> str:
        """Return the strongest inspection item of codes given as ``(module, code)``: lamp, note or none."""
        found = [self._item_of(module, code) for module, code in clears]
        return max(found, key=WEAKEST_FIRST.index, default="none")

    def _item_of(self, module: str, code: str) -> str:
        rows = [
            (len(prefix), item) for home, prefix, item in self._inspection if home == module and code.startswith(prefix)
        ]
        return max(rows, default=(0, "none"))[1]


def _items(text: str | None) -> set[str]:
    return {item.strip() for item in (text or "").split(";") if item.strip()}


def _ranges(text: str | None) -> list[tuple[tuple[int, int], tuple[int, int]]]:
    spans = [item.partition("-") for item in sorted(_items(text))]
    return [(code_to_bytes(first), code_to_bytes(last or first)) for first, _, last in spans]


def _phrases(text: str | None) -> list[frozenset[str]]:
    spoken = [read_wording(item) for item in sorted(_items(text))]
    return [said.thing | said.place for said in spoken]


def _said(texts: list[str]) -> list[frozenset[str]]:
    return [read_wording(text).thing | read_wording(text).place for text in texts if text]


def _spoken(phrases: list[frozenset[str]], said: list[frozenset[str]]) -> bool:
    return any(phrase <= words for phrase in phrases for words in said)
