"""Spellings of parts that look alike and are not one part yet: shown with a proposal, never merged by themselves.

The price book's ``also_called`` is where names are merged.  Accepting a proposal
writes one more price book row into the inbox; the next weekly run takes it in.
"""

from __future__ import annotations

import csv
import difflib
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from analysis.vocabulary.likeness import alike_pairs
from analysis.vocabulary.parts import canonical_parts, part_key
from pipelines.errors import BatchError
from pipelines.reading.layouts import LAYOUTS
from pipelines.storage.session import opened
from pipelines.workspace import Workspace

_JOBS = "select distinct part, vehicle, job from raw.repairs where part is not null order by all"
_COLUMNS = [column.name for column in LAYOUTS["parts"].columns]
_PRICES = f"select {', '.join(_COLUMNS)} from raw.parts order by file_id, row"  # noqa: S608 - our own columns


@dataclass(frozen=True)
class LookAlike:
    """Two names that may be one part.

    Attributes:
        spelling: The name that would become another name of ``part``.
        part: The name that would stay.
        spelling_jobs: Jobs that name ``spelling``.
        part_jobs: Jobs that name ``part``.
        why: What makes them alike.
        also_called: The ``also_called`` cell that would merge them; None where both are in the price book.
    """

    spelling: str
    part: str
    spelling_jobs: int
    part_jobs: int
    why: str
    also_called: str | None


@dataclass
class _Names:
    """The names of parts in a workspace's database."""

    canonical: dict[str, str]
    jobs: dict[str, int]
    prices: dict[str, dict[str, str]]

    def called(self, part: str, spelling: str) -> str:
        """The part's other names with one more."""
        known = self.prices.get(part, {}).get("also_called") or ""
        names = [name.strip() for name in known.split(";") if name.strip()]
        return ";".join(dict.fromkeys([*names, spelling]))

    def find(self, text: str) -> str | None:
        """Return the one name of the part that a text spells, or None."""
        wanted = part_key(text)
        found = {name for spelling, name in self.canonical.items() if part_key(spelling) == wanted}
        return min(found, default=None)


def look_alikes(workspace: Workspace) -> list[LookAlike]:
    """Return every two names of parts that look alike and are not merged.

    Args:
        workspace: Its database holds what earlier weekly runs took in.

    Returns:
        The pairs, most jobs first.  The name to keep is the price book's, else the one with more jobs.

    Raises:
        BatchError: Nothing was taken in yet, or another run is using the database.
    """
    names = _names(workspace)
    found = []
    for first, second, why in alike_pairs(sorted(set(names.canonical.values()))):
        keep, merge = sorted(
            (first, second), key=lambda name: (name not in names.prices, -names.jobs.get(name, 0), name)
        )
        also_called = None if merge in names.prices else names.called(keep, merge)
        found.append(LookAlike(merge, keep, names.jobs.get(merge, 0), names.jobs.get(keep, 0), why, also_called))
    return sorted(found, key=lambda pair: (-pair.spelling_jobs - pair.part_jobs, pair.part, pair.spelling))


def report(pairs: Sequence[LookAlike]) -> Iterator[str]:
    """Yield the lines that tell of the pairs."""
    if not pairs:
        yield "No two names of parts look alike."
        return
    for pair in pairs:
        spelling, part = f"{pair.spelling} ({_jobs(pair.spelling_jobs)})", f"{pair.part} ({_jobs(pair.part_jobs)})"
        yield f"{spelling} looks like {part}: {pair.why}"
        if pair.also_called is None:
            yield "  both are parts of the price book; take one out there if they are one"
        else:
            yield f'  proposal: part "{pair.part}", also_called "{pair.also_called}"'
            yield f'  accept:   --accept "{pair.spelling}={pair.part}"'
    yield ""
    yield f"{len(pairs)} pairs; nothing was merged."


def accept(workspace: Workspace, choices: Sequence[str]) -> Path:
    """Write price book rows that merge the chosen names, for the next weekly run to take in.

    Args:
        workspace: Where the inbox is.
        choices: Each ``SPELLING=PART``.

    Returns:
        The new file in ``inbox/parts``: each part's row as it is now, with one more other name.

    Raises:
        BatchError: A choice is not of that form, names no known part, or cannot merge; nothing is written.
    """
    names = _names(workspace)
    rows: dict[str, dict[str, str]] = {}
    for choice in choices:
        part, spelling = _chosen(names, choice)
        row = {"part": part} | names.prices.get(part, {})
        row["also_called"] = names.called(part, spelling)
        names.prices[part] = rows[part] = row
    folder = workspace.inbox / "parts"
    folder.mkdir(parents=True, exist_ok=True)
    taken = {path.name for path in folder.iterdir()}
    path = folder / next(name for number in range(1, len(taken) + 2) if (name := f"accepted-{number}.csv") not in taken)
    with path.open("x", newline="", encoding="utf-8") as handle:
        writer = csv.DictWriter(handle, _COLUMNS, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows[part] for part in sorted(rows))
    return path


def _chosen(names: _Names, choice: str) -> tuple[str, str]:
    spelling, sign, part = (text.strip() for text in choice.partition("="))
    if not (sign and spelling and part):
        raise BatchError(f"--accept {choice!r}: expected SPELLING=PART. Nothing was written.")
    known, other = (_known(names, choice, text) for text in (part, spelling))
    if known == other:
        raise BatchError(f"--accept {choice!r}: both are {known} already. Nothing was written.")
    if other in names.prices:
        raise BatchError(
            f"--accept {choice!r}: {other} is a part of the price book itself; take its row out there first. "
            "Nothing was written."
        )
    return known, spelling


def _known(names: _Names, choice: str, text: str) -> str:
    """Return the one name of the part that a text spells."""
    found = names.find(text)
    if found is None:
        near = difflib.get_close_matches(text, sorted(names.canonical), n=3)
        hint = f"; near it: {', '.join(near)}" if near else ""
        raise BatchError(f"--accept {choice!r}: no price book row or repair names {text!r}{hint}. Nothing was written.")
    return found


def _names(workspace: Workspace) -> _Names:
    if not workspace.database.is_file():
        raise BatchError(f"{workspace.root} has no data yet; run 'knockon weekly' first. Nothing was done.")
    with opened(workspace) as warehouse:
        fitted = list(warehouse.query(_JOBS).iter_rows())
        priced = list(warehouse.query(_PRICES).iter_rows(named=True))
    times: dict[str, int] = defaultdict(int)
    for spelling, _, _ in fitted:
        times[spelling] += 1
    canonical, _ = canonical_parts([(row["part"], row["also_called"] or "") for row in priced], sorted(times.items()))
    jobs: dict[str, set[tuple[str, str]]] = defaultdict(set)
    for spelling, vehicle, job in fitted:
        jobs[canonical[spelling]].add((vehicle, job))
    prices = {canonical[row["part"]]: {name: row[name] or "" for name in _COLUMNS} for row in priced}
    return _Names(canonical, {name: len(found) for name, found in jobs.items()}, prices)


def _jobs(count: int) -> str:
    return f"{count} job" if count == 1 else f"{count} jobs"
