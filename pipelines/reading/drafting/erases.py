"""Ask whether codes were erased after the jobs of a list that says it of none of its repairs; and find its results.

Stored codes stay until they are erased, so a repair after which nobody erased cannot be told from one that did nothing.
A dealer who erases every time writes it down of no job: one answer holds for the whole list.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.guessing import Guess, Source
from pipelines.reading.drafting.words import ACTIONS, RESETS, folded, known_in, verb_of, works_in
from pipelines.reading.mapping.free_work import work_within

ERASED_AFTER = "erased.after"
EACH_JOB, NOT_TOLD = "each job", "not told"
_MEANS = {
    EACH_JOB: "yes: after each of them",
    NOT_TOLD: "no, or I do not know",
}
_RESULTS = re.compile(
    r"(?i)(?:all |now )?(?:good|ok|okay|fine|fixed|solved|works?|working|cured|no change|not? (?:good|fixed|ok)"
    r"|(?:came|come|is|was) back(?: again)?|back again|back|returned|(?:is )?still (?:there|on|bad|faulty)"
    r"|same(?: again)?|failed|did not help|no help|half|partly|gut|behoben|erledigt|wieder da|noch da|kam wieder"
    r"|unver[aä]ndert|bon|revenu|toujours l[aà]|bien|volvi[oó]|sigue|tornato|risolto|terug|opgelost|goed"
    r"|wr[oó]ci[lł]o|dobrze)[.!]?"
)
_MOSTLY = 0.8


def result_of(guesses: Sequence[Guess], sources: Mapping[str, Source]) -> list[Guess]:
    """Guess that a column whose cells say how each job went is its note, where no other column is."""
    taken = {guess.source for guess in guesses}
    if any(guess.column == "note" for guess in guesses):
        return []
    for name, source in sources.items():
        told = [bool(_RESULTS.fullmatch(cell)) for cell in source.filled]
        if name not in taken and len(told) > 1 and sum(told) >= _MOSTLY * len(told):
            return [Guess("note", name, f"cells like {source.filled[0]!r} say how a job went. {_NO_PROOF}")]
    return []


_NO_PROOF = "It is kept as a note: what a job cured is told by the scans after it"


def ask_erased_after(draft: Draft, chosen: Mapping[str, list[str]], sources: Mapping[str, Source]) -> None:
    """Ask whether codes were erased after each job, where no job with other work in it says so."""
    visits = [*_visits(chosen, sources)]
    alone = any(map(all, visits))
    if "erased" in draft.tables or not visits or any(any(works) and not all(works) for works in visits):
        return
    if all(map(all, visits)):
        return
    asks = "Were the codes erased after each of these jobs?"
    why = "No line says so."
    if alone:
        asks = "Were the codes erased after each of the repairs too?"
        why = "Lines say that codes were erased, and none of them beside a repair."
    why += (
        " A stored code stays until it is erased, so this decides whether anything is learned from the list: with a "
        "yes the scan after each job tells whether it worked; otherwise no job of it counts as one that did."
    )
    notes = [name for name in chosen.get("note", ()) if _says_results(sources.get(name))]
    if notes:
        why += f" What {notes[0]!r} says is kept as a note and proves nothing: the scans do."
    answer = draft.ask(ERASED_AFTER, asks, NOT_TOLD, why, (EACH_JOB, NOT_TOLD), means=_MEANS, hangs=True)
    if answer == EACH_JOB:
        draft.put("after", EACH_JOB, "as answered", "erased")


def _says_results(source: Source | None) -> bool:
    told = source.filled if source is not None else []
    return bool(told) and sum(bool(_RESULTS.fullmatch(cell)) for cell in told) >= _MOSTLY * len(told)


def _visits(chosen: Mapping[str, list[str]], sources: Mapping[str, Source]) -> Iterator[list[bool]]:
    """Yield of each car and day, as far as columns tell them, which of its rows say that codes were erased."""
    names = [name for column in ("vehicle", "done_at") for name in chosen.get(column, ()) if name in sources]
    keys = [sources[name].cells for name in names]
    action, part = (
        [sources[name].cells for name in chosen.get(column, ()) if name in sources] for column in ("action", "part")
    )
    height = max((len(cells) for cells in (*keys, *action, *part)), default=0)
    visits: dict[tuple[str, ...], list[bool]] = {}
    for at in range(height):
        key = tuple(cells[at].strip() if at < len(cells) else "" for cells in keys)
        named = any(at < len(cells) and cells[at].strip() for cells in part)
        for cell in [cells[at] for cells in action if at < len(cells)] or [""]:
            said = [says_erase(work, named=named) for work in works_in(cell)]
            if cell.strip() or named:
                visits.setdefault(key, []).extend(said)
    yield from visits.values()


def says_erase(text: str, *, named: bool = False) -> bool:
    """Say whether a text says that codes were erased; of a part that is named a reset is an adjustment."""
    words = [text, verb_of(text) or "", verb_of(text, at_end=True) or "", work_within(text)[0] or ""]
    resets = any(folded(word) in RESETS for word in words)
    return (resets and not named) or (not resets and any(known_in(ACTIONS, word) == "erase" for word in words if word))
