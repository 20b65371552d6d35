"""Names of control units that the list of modules does not know: asked about, kept as they stand until answered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from analysis.vocabulary.modules import ModuleIndex
from pipelines.errors import BatchError
from pipelines.ingest.own_words import OwnWords, say_module
from pipelines.storage.sql_models import reference_table
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

_SCANNED = "select module, count(*) from raw.scans where module is not null group by module order by module"
OWN = "own"
"""The answer that it is none of the list."""


@dataclass(frozen=True)
class UnknownUnit:
    """A control unit that the list does not know.

    Attributes:
        spelling: As scans call it, as most of its rows do.
        rows: Rows of scans that name it, however it is spelled.
        module: What it is kept as.
    """

    spelling: str
    rows: int
    module: str


def taken_in(warehouse: Warehouse) -> dict[str, int]:
    """Return the control units of the scans that earlier runs took in, as they are spelled, with their rows."""
    return dict(warehouse.query(_SCANNED).iter_rows())


def known_units() -> dict[str, str]:
    """Return the modules of the list, each with what it is, by what it is."""
    rows = reference_table("modules").select("module", "name").iter_rows()
    return dict(sorted(rows, key=lambda row: row[1].casefold()))


def unknown_units(named: Mapping[str, int], own: OwnWords) -> list[UnknownUnit]:
    """Return the control units that neither the list nor the dealer's own words know, most rows first.

    Args:
        named: Each as scans spell it, with its rows.
        own: The dealer's own words.
    """
    index, _ = ModuleIndex.from_rows(reference_table("modules").iter_rows(named=True)).taught(own.modules)
    rows: dict[str, dict[str, int]] = {}
    for spelling, times in named.items():
        module, known = index.canonical(spelling)
        if not known:
            rows.setdefault(module, {})[spelling] = times
    found = [
        UnknownUnit(max(spellings, key=lambda one: (spellings[one], one)), sum(spellings.values()), module)
        for module, spellings in rows.items()
    ]
    return sorted(found, key=lambda unit: (-unit.rows, unit.spelling))


def answer(workspace: Workspace, unit: UnknownUnit, module: str, name: str) -> None:
    """Write down what a control unit is, for the next weekly run to go by.

    Args:
        workspace: Where the dealer's own words stand.
        unit: The control unit.
        module: The module of the list that it is; ``OWN`` where it is none of them.
        name: What it is in the dealer's words, where it is none of them.

    Raises:
        BatchError: The list has no such module.
    """
    if module == OWN:
        say_module(workspace.root, unit.spelling, unit.module, name or unit.spelling)
    elif module in known_units():
        say_module(workspace.root, unit.spelling, module)
    else:
        raise BatchError(f"control unit {unit.spelling!r}: the list has no module {module!r}. Nothing was changed.")
