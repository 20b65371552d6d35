"""The ways in which one file can be read: as a table, as lines; the first that leaves no column open is taken."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from pipelines.errors import InputFileError
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.other_lists import NO_TABLE


@dataclass(frozen=True)
class Way:
    """One way to read a file: the format's name, why it may be so, and what drafts it."""

    form: str
    why: str
    draft: Callable[[Draft], None]


def first_whole(draft: Draft, ways: Sequence[Way]) -> Draft:
    """Draft in the first way that leaves no column open, else in the one that leaves the fewest."""
    tried = []
    if draft.answers.get("table", "scans") != "scans":  # lines are read as scans alone
        ways = [way for way in ways if way.form not in ("text", "pdf")] or ways
    for way in ways:
        if draft.answers.get("format") in (None, way.form) or len(ways) == 1:
            one = draft.copy()
            one.put("format", way.form, way.why)
            way.draft(one)
            tried.append((way, one))
            if not _left_open(one):
                break
    if not tried:
        forms = ", ".join(way.form for way in ways)
        raise InputFileError(f"format: found {draft.answers['format']!r}; expected one of {forms}.")
    way, best = min(tried, key=lambda found: _left_open(found[1]))
    if len(ways) > 1 and (len(tried) > 1 or "format" in draft.answers):
        lost = "; ".join(f"as {other.form} it leaves open {_left_open(one)}" for other, one in tried if one is not best)
        best.ask_first("format", "How is the file read?", way.form, f"{way.why}; {lost}", [way.form for way in ways])
    return best


def _left_open(draft: Draft) -> int:
    """Return how many of a draft's open questions are about where things stand, not about what they mean."""
    if any(asked.key == NO_TABLE for asked in draft.open):
        return _NOT_AT_ALL
    return sum(asked.key.startswith(("columns.", "text.")) for asked in draft.open)


_NOT_AT_ALL = 1_000
