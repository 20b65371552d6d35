"""One name for each control module, however an export writes it.

"A/C", "climate" and "HVAC module" are one module.  A name that the list does not
know stays a module of its own, in capitals: it is never dropped and never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from analysis.vocabulary.addresses import address_of

# Words that may stand behind a module's name and tell nothing.
_TAILS = {" module": "", " ecu": "", " controller": "", " computer": "", " control unit": " control", " control": ""}
# These part module, code and make in a code's key, and one key from the next.
_KEY_MARKS = re.compile(r"[:;@\s]+")
_UNNAMED = "UNNAMED"


@dataclass(frozen=True)
class ModuleIndex:
    """The list of modules, ready to look names up.

    Attributes:
        names: Normalised name, abbreviation or address to canonical module.
    """

    names: Mapping[str, str]

    @classmethod
    def from_rows(cls, rows: Iterable[Mapping[str, str | None]]) -> ModuleIndex:
        """Build the index.

        Args:
            rows: Rows of the module list with ``module``, ``name``, ``also_called`` (``;``-separated),
                ``iso15765_request_response`` and ``j1939_source_address``.

        Returns:
            The index.  An address that two modules share goes to the first of them; a shortened name that
            two could mean goes to neither.

        Raises:
            ValueError: The list gives one written name to two modules.
        """
        written: dict[str, str] = {}
        shortened: dict[str, set[str]] = {}
        addresses: dict[str, str] = {}
        for row in rows:
            module = row["module"] or ""
            for spelling in _spellings(row):
                if written.setdefault(_key(spelling), module) != module:
                    raise ValueError(f"the module list gives {spelling!r} to {written[_key(spelling)]} and to {module}")
                for short in _without_tails(_key(spelling)):
                    shortened.setdefault(short, set()).add(module)
            for address in _addresses(row):
                addresses.setdefault(address, module)
        single = {name: min(modules) for name, modules in sorted(shortened.items()) if len(modules) == 1}
        return cls({**single, **addresses, **written})

    def canonical(self, text: str) -> tuple[str, bool]:
        """Return the one name of a module and whether the list knows it.

        Args:
            text: The name, abbreviation or diagnostic address as the export writes it.

        Returns:
            The canonical module and True; or the address in its one spelling, else the text in capitals, with single
            spaces and without the marks that part a code's key (``:``, ``;``, ``@``), and False.
        """
        address = address_of(text)
        for name in [address] if address else _without_tails(_key(text)):
            if name in self.names:
                return self.names[name], True
        return address or _plain(text), False

    def taught(self, rows: Iterable[Mapping[str, str | None]]) -> tuple[ModuleIndex, list[str]]:
        """Return the index with a dealer's own names added; where they clash with the list's, the dealer's win.

        Args:
            rows: ``module`` (the list's abbreviation, or a new one), ``name`` and ``also_called`` (``;``-separated
                names and addresses).

        Returns:
            The new index, and a note for each name that meant another module before.
        """
        names, notes = dict(self.names), []
        own: set[str] = set()
        for row in rows:
            module = _plain(row["module"] or "")
            for spelling in _spellings(row):
                key = address_of(spelling) or _key(spelling)
                known = names.get(key, module)
                if known != module:
                    whose = "your own list also gives" if key in own else "the list gives"
                    notes.append(f"module name {spelling.strip()!r}: {whose} it to {known}; {module} has it now")
                names[key] = module
                own.add(key)
        return ModuleIndex(names), notes


def _plain(text: str) -> str:
    return _KEY_MARKS.sub(" ", text).strip().upper() or _UNNAMED


def _addresses(row: Mapping[str, str | None]) -> list[str]:
    """Return every address of a row of the list in its one spelling."""
    written = re.split(r"[/;]", row["iso15765_request_response"] or "")
    source = row.get("j1939_source_address") or ""
    found = [address_of(text) for text in [*written, f"sa {source}"]]
    return [address for address in found if address]


def _spellings(row: Mapping[str, str | None]) -> list[str]:
    """Return every name that the list gives a module; its name counts with and without the remark in brackets."""
    name = row["name"] or ""
    given = [row["module"] or "", name, re.sub(r"\(.*?\)", " ", name), *(row["also_called"] or "").split(";")]
    return [spelling for spelling in given if _key(spelling)]


def _key(text: str) -> str:
    """Return letters and digits only, with single spaces, in lower case; "A/C" becomes "ac"."""
    joined = re.sub(r"(?<=\b\w)[/.&](?=\w\b)", "", text.casefold())
    return " ".join(re.sub(r"[\W_]+", " ", joined).split())


def _without_tails(key: str) -> list[str]:
    """Return the name, then with its empty last words taken off one by one, then each of these without spaces."""
    found = [key]
    while tail := next((tail for tail in _TAILS if found[-1].endswith(tail)), None):
        found.append(found[-1].removesuffix(tail) + _TAILS[tail])
    return list(dict.fromkeys([*found, *(name.replace(" ", "") for name in found)]))
