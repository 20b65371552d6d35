"""The dealer's own words: what a control unit is, which names mean one part, what is fitted to a car.

Each kind stands in a file beside the settings, which a person can write by hand and the desk writes an answer into.  A
file is read whole at each run, so an answer that is changed or taken out counts from the next run on; no file is moved
or loaded, and no restore touches it.
"""

from __future__ import annotations

import csv
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from analysis.vocabulary.parts import part_key
from pipelines.errors import BatchError, InputFileError
from pipelines.reading.source import read_text

MODULES, PARTS, EQUIPMENT = "modules.csv", "part_names.csv", "equipment.csv"
YES, NO = "yes", "no"
Row = Mapping[str, str]


@dataclass(frozen=True)
class _Kind:
    """One file of own words.

    Attributes:
        columns: Its columns.
        needed: Those that no line may leave blank; without the first of them the file is not used.
        values: The only words that a column may hold, by its name.
    """

    columns: tuple[str, ...]
    needed: tuple[str, ...]
    values: Mapping[str, tuple[str, ...]]


_KINDS = {
    MODULES: _Kind(("module", "name", "also_called"), ("module",), {}),
    PARTS: _Kind(("name", "part", "same"), ("name", "part", "same"), {"same": (YES, NO)}),
    EQUIPMENT: _Kind(("vehicle", "has", "codes"), ("vehicle", "has"), {}),
}


@dataclass(frozen=True)
class OwnWords:
    """What a dealer's own files say.

    Attributes:
        modules: ``module``, ``name`` and ``also_called`` (``;``-separated).
        parts: ``name``, ``part`` and ``same``: yes where the name is another one of the part, no where it is not.
        equipment: ``vehicle``, ``has`` (what is fitted, in words) and ``codes`` (``;``-separated keys of those that it
            sets; blank: those that are known to come of it).
    """

    modules: Sequence[Row] = ()
    parts: Sequence[Row] = ()
    equipment: Sequence[Row] = ()

    @property
    def one_part(self) -> list[tuple[str, str]]:
        """Each name that means a part of another name, with it."""
        return [(row["name"], row["part"]) for row in self.parts if row["same"] == YES]

    @property
    def two_parts(self) -> set[frozenset[str]]:
        """The keys of every two names that were said to be two parts."""
        return {frozenset((part_key(row["name"]), part_key(row["part"]))) for row in self.parts if row["same"] == NO}


NOTHING_SAID = OwnWords()


def own_words(root: Path) -> tuple[OwnWords, list[str]]:
    """Read the dealer's own words.

    Args:
        root: The workspace's folder; none of the files need be there.

    Returns:
        What they say, and notes: why a file or a line of one was left out.
    """
    read = {name: read_own(root / name) for name in _KINDS}
    notes = [note for _, told in read.values() for note in told]
    return OwnWords(read[MODULES][0], read[PARTS][0], read[EQUIPMENT][0]), notes


def read_own(path: Path) -> tuple[list[Row], list[str]]:
    """Read one file of own words.

    Args:
        path: A CSV file called as one of them is; it need not be there.

    Returns:
        Its rows, and notes: why the file or a line of it was left out.
    """
    kind = _KINDS[path.name]
    if not path.is_file():
        return [], []
    try:
        lines = csv.DictReader(read_text(path).splitlines())
        header = [name.strip().lower() for name in lines.fieldnames or ()]
        lines.fieldnames = header
        found = [{name: (line.get(name) or "").strip() for name in kind.columns} for line in lines]
    except (InputFileError, csv.Error) as error:
        return [], [f"{path.name} was not used: {str(error).replace(str(path), path.name)}"]
    lacking = [name for name in kind.needed if name not in header]
    if lacking:
        has = ", ".join(header)[:200]
        return [], [f"{path.name} was not used: the header lacks {', '.join(lacking)}; it has {has}"]
    kept: list[Row] = []
    notes = []
    for number, row in enumerate(found, 2):
        row |= {name: row[name].lower() for name in kind.values}
        why = next((f"{name} is blank" for name in kind.needed if not row[name]), "") or next(
            (
                f"{name} is {row[name]!r}, expected {' or '.join(words)}"
                for name, words in kind.values.items()
                if row[name] not in words
            ),
            "",
        )
        if why:
            notes.append(f"{path.name} row {number}: {why}; the row was left out")
        else:
            kept.append(row)
    return kept, notes


def say_module(root: Path, spelling: str, module: str, name: str = "") -> Path:
    """Write down what a control unit is that the list does not know.

    Args:
        root: The workspace's folder.
        spelling: As the scans call it.
        module: The module that it is: one of the list, or a name of its own.
        name: What it is in the dealer's words, where it is one of its own.
    """
    rows = [dict(row) for row in _read(root / MODULES)]
    mine = next((row for row in rows if row["module"].casefold() == module.casefold()), None)
    if mine is None:
        rows.append(mine := {"module": module, "name": name, "also_called": ""})
    known = [word.strip() for word in mine["also_called"].split(";") if word.strip()]
    if spelling.casefold() != module.casefold():
        mine["also_called"] = ";".join(dict.fromkeys([*known, spelling]))
    return _write(root / MODULES, rows)


def say_parts(root: Path, answers: Iterable[tuple[str, str, bool]]) -> Path:
    """Write down whether two names mean one part; what was said of the same two before counts no more.

    Args:
        root: The workspace's folder.
        answers: A name, the part's name that would stay, and whether they are one part.
    """
    rows = [dict(row) for row in _read(root / PARTS)]
    for name, part, same in answers:
        both = {part_key(name), part_key(part)}
        rows = [row for row in rows if {part_key(row["name"]), part_key(row["part"])} != both]
        rows.append({"name": name, "part": part, "same": YES if same else NO})
    return _write(root / PARTS, rows)


def say_equipment(root: Path, vehicle: str, has: str, codes: Sequence[str] = ()) -> Path:
    """Write down what is fitted to a car; what was said of the same thing on it before counts no more."""
    rows = _without_equipment(_read(root / EQUIPMENT), vehicle, has)
    return _write(root / EQUIPMENT, [*rows, {"vehicle": vehicle, "has": has, "codes": ";".join(codes)}])


def take_equipment(root: Path, vehicle: str, has: str) -> Path:
    """Take out what was said to be fitted to a car.

    Raises:
        BatchError: Nothing of the kind was said.
    """
    rows = _read(root / EQUIPMENT)
    kept = _without_equipment(rows, vehicle, has)
    if len(kept) == len(rows):
        raise BatchError(f"{EQUIPMENT}: no line says that {vehicle} has {has!r}. Nothing was changed.")
    return _write(root / EQUIPMENT, kept)


def _without_equipment(rows: Sequence[Row], vehicle: str, has: str) -> list[Row]:
    mine = (vehicle.casefold(), has.casefold())
    return [row for row in rows if (row["vehicle"].casefold(), row["has"].casefold()) != mine]


def _read(path: Path) -> list[Row]:
    """Return the rows of a file that is written anew; a line that cannot be kept must not get lost."""
    rows, notes = read_own(path)
    if notes:
        raise BatchError(f"{'; '.join(notes)}. Mend {path.name} first. Nothing was changed.")
    return rows


def _write(path: Path, rows: Iterable[Row]) -> Path:
    fresh = path.with_name(f".{path.name}.new")
    with fresh.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.DictWriter(handle, _KINDS[path.name].columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    os.replace(fresh, path)
    return path
