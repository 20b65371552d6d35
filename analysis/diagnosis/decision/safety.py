"""What must be said beside a fix: the caution, the first check, the periodic inspection.

The reference tables hold words of parts and modules with a sentence for each class
of component.  A sentence follows the part itself and the module it sits in, not every
module whose codes it may clear; only what minds the road test follows the codes.  The
sentences are common practice, not a promise about any car.
"""

import re
from dataclasses import dataclass

import polars as pl

from analysis.diagnosis.inputs.text_matching import read_wording

EU = frozenset(re.findall("..", "ATBEBGCYCZDEDKEEESFIFRGRHRHUIEITLTLULVMTNLPLPTROSESISK"))
WEAKEST_FIRST = ("none", "note", "lamp")


@dataclass(frozen=True)
class Advice:
    """What stands beside one fix; texts are blank where nothing is known."""

    caution: str
    check_first: str
    inspection: str


class Adviser:
    """Looks fixes up in the reference tables."""

    def __init__(self, cautions: pl.DataFrame, first_checks: pl.DataFrame, inspection: pl.DataFrame, country: str):
        """Read the tables once.

        Args:
            cautions: words, modules (each ``;``-separated or null), follows (``part``: name, synonyms or the module
                it sits in; ``name``: its own name alone; ``codes``: also the modules of the codes), caution.
            first_checks: words, check_first; the first row that fits the name is taken, else one that fits a synonym.
            inspection: countries, module, code (a prefix or null), inspection, warning.
            country: Two letters; members of the European Union answer to ``EU`` as well.
        """
        self._cautions = [
            (_phrases(words), _items(modules), follows, caution)
            for words, modules, follows, caution in cautions.select(
                "words", "modules", "follows", "caution"
            ).iter_rows()
        ]
        self._checks = [
            (_phrases(words), check) for words, check in first_checks.select("words", "check_first").iter_rows()
        ]
        mine = {country.upper()} | ({"EU"} if country.upper() in EU else set())
        table = inspection.select("countries", "module", "code", "inspection").iter_rows()
        self._inspection = [(m, c or "", item) for countries, m, c, item in table if mine & _items(countries)]

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
        name, others = _said([part]), _said(wordings)
        modules = {module for module, _ in clears}
        fits = [
            caution
            for phrases, homes, follows, caution in self._cautions
            if _spoken(phrases, name if follows == "name" else name + others)
            or homes & ({home} | (modules if follows == "codes" else set()))
        ]
        checks = [check for said in (name, others) for phrases, check in self._checks if _spoken(phrases, said)]
        return Advice(" ".join(dict.fromkeys(fits)), checks[0] if checks else "", self.item(clears))

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


def _phrases(text: str | None) -> list[frozenset[str]]:
    spoken = [read_wording(item) for item in sorted(_items(text))]
    return [said.thing | said.place for said in spoken]


def _said(texts: list[str]) -> list[frozenset[str]]:
    return [read_wording(text).thing | read_wording(text).place for text in texts if text]


def _spoken(phrases: list[frozenset[str]], said: list[frozenset[str]]) -> bool:
    return any(phrase <= words for phrase in phrases for words in said)
