"""Draft what a column means that says of each module whether it answered."""

from __future__ import annotations

from collections.abc import Sequence

from pipelines.reading.drafting.answer_words import says_answered, says_silent
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.words import NO_CODES, SILENT


def draft_answers(draft: Draft, cells: Sequence[str]) -> None:
    """Draft what each word of a column means that says whether a module answered; ask about those not known here."""
    words = {cell.strip().lower() for cell in cells if cell.strip()} - {"read", "silent"}
    spelled_out = any(map(SILENT.search, words))
    for word in sorted(words):
        bare = word.strip(" .!")
        # Beside words that say silence in full, a dash or 'none' says that nothing was found.
        no_code = spelled_out and bare not in ("no", "false") and NO_CODES.fullmatch(word) is not None
        silent = not (no_code and not SILENT.search(word)) and says_silent(word)
        answered = no_code or says_answered(word)
        means = "silent" if silent else "" if answered else None
        why = f"{word!r} is a usual word for it" if means is not None else f"{word!r} is no word that is known here"
        asks = f"What does {word!r} say of a module: that it was read, or that it did not answer (silent)?"
        proposal = None if means is None else means or "read"
        answer = draft.ask(f"values.module_state.{word}", asks, proposal, why, ("read", "silent"))
        if answer is not None:
            draft.put(word, "" if answer == "read" else answer, table="values.module_state")
