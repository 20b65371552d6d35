"""Spellings of parts that look alike and are not one part yet: asked about once, never merged by themselves.

The price book's ``also_called`` merges names, and so does the dealer's answer.  Both answers, one part and two, stand
in the dealer's own words; the next weekly run goes by them, and what was answered is not asked again.
"""

from __future__ import annotations

import difflib
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from analysis.vocabulary.likeness import alike_pairs
from analysis.vocabulary.parts import canonical_parts, part_key
from pipelines.errors import BatchError
from pipelines.ingest.own_words import OwnWords, own_words, say_parts
from pipelines.storage.session import opened
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

_JOBS = "select distinct part, vehicle, job from raw.repairs where part is not null order by all"
_PRICES = "select part, also_called from raw.parts order by file_id, row"

Fitted = tuple[str, str, str]
"""A part as a repair spells it, with its car and job."""
Priced = tuple[str, str]
"""A part of the price book with its other names, ``;``-separated."""


@dataclass(frozen=True)
class LookAlike:
    """Two names that may be one part.

    Attributes:
        spelling: The name that would become another name of ``part``.
        part: The name that would stay.
        spelling_jobs: Jobs that name ``spelling``.
        part_jobs: Jobs that name ``part``.
        why: What makes them alike.
    """

    spelling: str
    part: str
    spelling_jobs: int
    part_jobs: int
    why: str


@dataclass
class _Names:
    """The names of parts that are known."""

    canonical: dict[str, str]
    jobs: dict[str, int]
    priced: set[str]

    def find(self, text: str) -> str | None:
        """Return the one name of the part that a text spells, or None."""
        wanted = part_key(text)
        found = {name for spelling, name in self.canonical.items() if part_key(spelling) == wanted}
        return min(found, default=None)


def taken_in(warehouse: Warehouse) -> tuple[list[Priced], list[Fitted]]:
    """Return the price book's parts and the parts of the repairs that earlier runs took in."""
    priced = [(part, also_called or "") for part, also_called in warehouse.query(_PRICES).iter_rows()]
    return priced, list(warehouse.query(_JOBS).iter_rows())


def alike(priced: Sequence[Priced], fitted: Iterable[Fitted], own: OwnWords) -> list[LookAlike]:
    """Return every two names of parts that look alike, are not merged, and were not said to be two parts.

    Args:
        priced: The price book.
        fitted: The parts of the repairs.
        own: The dealer's own words.

    Returns:
        The pairs, most jobs first.  The name to keep is the price book's, else the one with more jobs.
    """
    names, found = _names(priced, fitted, own), []
    for first, second, why in alike_pairs(sorted(set(names.canonical.values()))):
        if frozenset((part_key(first), part_key(second))) in own.two_parts:
            continue
        keep, merge = sorted(
            (first, second), key=lambda name: (name not in names.priced, -names.jobs.get(name, 0), name)
        )
        found.append(LookAlike(merge, keep, names.jobs.get(merge, 0), names.jobs.get(keep, 0), why))
    return sorted(found, key=lambda pair: (-pair.spelling_jobs - pair.part_jobs, pair.part, pair.spelling))


def look_alikes(workspace: Workspace) -> list[LookAlike]:
    """Return every two names of parts that look alike, of what was taken in.

    Args:
        workspace: Its database holds what earlier weekly runs took in.

    Raises:
        BatchError: Nothing was taken in yet, or another run is using the database.
    """
    own, _ = own_words(workspace.root)
    return alike(*_known_in(workspace), own)


def report(pairs: Sequence[LookAlike]) -> Iterator[str]:
    """Yield the lines that tell of the pairs."""
    if not pairs:
        yield "No two names of parts look alike."
        return
    for pair in pairs:
        spelling, part = f"{pair.spelling} ({_jobs(pair.spelling_jobs)})", f"{pair.part} ({_jobs(pair.part_jobs)})"
        yield f"{spelling} looks like {part}: {pair.why}"
        yield f'  one part:  --accept "{pair.spelling}={pair.part}"'
        yield f'  two parts: --apart "{pair.spelling}={pair.part}"'
    yield ""
    yield f"{len(pairs)} pairs; nothing was merged."


def answer(workspace: Workspace, one: Sequence[str], two: Sequence[str]) -> Path:
    """Write down which names are one part and which are two, for the next weekly run to go by.

    Args:
        workspace: Where the dealer's own words stand.
        one: Each ``SPELLING=PART`` that is one part.
        two: Each ``SPELLING=PART`` that is two.

    Returns:
        The file of the answers.

    Raises:
        BatchError: A choice is not of that form or names no known part; nothing is written.
    """
    own, _ = own_words(workspace.root)
    names = _names(*_known_in(workspace), own)
    told = [(*_chosen(names, "--accept", choice), True) for choice in one]
    told += [(*_chosen(names, "--apart", choice), False) for choice in two]
    return say_parts(workspace.root, told)


def _chosen(names: _Names, option: str, choice: str) -> tuple[str, str]:
    spelling, sign, part = (text.strip() for text in choice.partition("="))
    if not (sign and spelling and part):
        raise BatchError(f"{option} {choice!r}: expected SPELLING=PART. Nothing was written.")
    known, other = (_known(names, option, choice, text) for text in (part, spelling))
    if known == other:
        raise BatchError(f"{option} {choice!r}: both are {known} already. Nothing was written.")
    return spelling, known


def _known(names: _Names, option: str, choice: str, text: str) -> str:
    """Return the one name of the part that a text spells."""
    found = names.find(text)
    if found is None:
        near = difflib.get_close_matches(text, sorted(names.canonical), n=3)
        hint = f"; near it: {', '.join(near)}" if near else ""
        raise BatchError(f"{option} {choice!r}: no price book row or repair names {text!r}{hint}. Nothing was written.")
    return found


def _known_in(workspace: Workspace) -> tuple[list[Priced], list[Fitted]]:
    if not workspace.database.is_file():
        raise BatchError(f"{workspace.root} has no data yet; run 'knockon weekly' first. Nothing was done.")
    with opened(workspace) as warehouse:
        return taken_in(warehouse)


def _names(priced: Sequence[Priced], fitted: Iterable[Fitted], own: OwnWords) -> _Names:
    rows, times = list(fitted), defaultdict[str, int](int)
    for spelling, _, _ in rows:
        times[spelling] += 1
    canonical, _ = canonical_parts(list(priced), sorted(times.items()), own.one_part)
    jobs: dict[str, set[tuple[str, str]]] = defaultdict(set)
    for spelling, vehicle, job in rows:
        jobs[canonical[spelling]].add((vehicle, job))
    counts = {name: len(found) for name, found in jobs.items()}
    return _Names(canonical, counts, {canonical[part] for part, _ in priced})


def _jobs(count: int) -> str:
    return f"{count} job" if count == 1 else f"{count} jobs"
