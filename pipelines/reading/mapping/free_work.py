"""What was done, out of free words: ``misfire cyl 1 - coil replaced`` is a coil put in new.

A dealer writes a line as it comes.  The usual words for work stand somewhere in it, and of several the one that changed
most counts: a part put in new before what was cleaned or looked at beside.  A text that says that something was not
done, or is still to be done, tells at most of a look at it.  Words: common practice, no source.
"""

from __future__ import annotations

import re

import polars as pl

from pipelines.reading.drafting.words import ACTIONS, RESETS, folded, known_in

LEFT_OUT = "left out"
_MORE: dict[str, tuple[str, ...]] = {
    "replace": (
        "fitted", "installed", "swap", "neu", "neue", "neuer", "neues", "neuf", "neuve", "nuevo", "nueva", "nuovo",
        "nuova", "nieuw", "nieuwe", "nowy", "nowa", "nowe", "eingebaut", "verbaut", "erneuern",
    ),
    "repair": (
        "soldered", "resoldered", "welded", "glued", "rewired", "gelotet", "nachgelotet", "verlotet", "geschweisst",
        "geschweist", "geklebt", "soude", "soudee", "soldado", "saldato", "gelast", "gesoldeerd",
    ),
    "inspect": ("tested", "examined", "getestet", "testee", "teste", "probado", "testato", "getest"),
}  # fmt: skip
_TOO_WIDE = {
    "check", "update", "software", "clean", "revision", "exchange", "diagnose", "diagnosis", "kontrola", "controle",
    "inspection", "verifica", "repair", "reparatur", "naprawa", "tausch", "regler", "regular", "clear", "wissen",
    "change", "flash", "byte", "coder", "programmer", "fix", "gemaakt", "einstellung", "kontrolle", "controllo",
}  # fmt: skip
"""Words for work that are names of other things as often: a check engine light, a repair kit."""
_WORDS = {
    spelling: means
    for means in ACTIONS
    for spelling in (*ACTIONS[means], *_MORE.get(means, ()))
    if " " not in spelling and spelling not in _TOO_WIDE
}
_NOT_DONE = {
    "not", "never", "without", "nicht", "kein", "keine", "ohne", "noch", "needs", "need", "should", "must", "todo",
    "later", "next", "soon", "muss", "spater", "pas", "sans", "sin", "senza", "niet", "zonder", "nie", "bez",
    "cancelled",
}  # fmt: skip
_FILLING = {
    "one", "ones", "it", "was", "were", "is", "are", "be", "the", "a", "an", "has", "have", "been", "and",
    "with", "by", "for", "of", "to", "up", "out", "in", "on", "now", "wurde", "wurden", "und", "mit", "der",
    "die", "das", "ein", "eine", "et", "le", "la", "les", "un", "une", "y", "el", "los", "las", "en", "e",
    "il", "lo", "het", "de", "then", "both", "all",
    "only", "just", "nur", "seulement", "solo", "alleen", "tylko",
}  # fmt: skip
_CLAUSES = re.compile(r"[,;:()\n]|\.(?:\s|$)|\s[-–—]\s")


def work_within(text: str) -> tuple[str | None, str]:
    """Return what a text in free words says was done, and the words that are left as the part; None, "" without.

    Args:
        text: What was done, as the dealer put it.

    Returns:
        An action of the layout, ``reset`` where that is the word, or None; and the part's words, blank where none are.
    """
    best: tuple[int, str, str] | None = None
    order = [*ACTIONS]
    undone = bool(_NOT_DONE & {*folded(text).split()})
    for clause in _CLAUSES.split(text):
        pieces = re.findall(r"[^\W_]+(?:[-/.][^\W_]+)*", clause)
        said = [(word, _WORDS.get(folded(word))) for word in pieces]
        told = [means for _, means in said if means is not None]
        if not told:
            continue
        rank = min(map(order.index, told))
        rest = _name_in([word for word, means in said if means is None])
        means = order[rank]
        if means == "erase" and any(folded(word) in RESETS for word in pieces):
            means = next(word for word in map(folded, pieces) if word in RESETS)
        if best is None or rank < best[0]:
            best = rank, means, " ".join(rest)
    if best is None:
        return None, ""
    return ("inspect" if undone else best[1]), best[2]


def _name_in(words: list[str]) -> list[str]:
    """Return words without those at their ends that name no part: ``the sensor of the wheel was`` is one of a wheel."""
    names = [at for at, word in enumerate(words) if folded(word) not in {*_FILLING, *_NOT_DONE}]
    return words[names[0] : names[-1] + 1] if names else []


def is_free(cells: list[str]) -> bool:
    """Say whether some cells tell of work in free words: several of them are no known word for it, and sentences."""
    unknown = {
        cell for cell in cells if cell.strip() and known_in(ACTIONS, cell) is None and folded(cell) not in RESETS
    }
    told = sum(" " in cell.strip() for cell in unknown)
    return told >= _FEWEST and any(work_within(cell)[0] for cell in unknown)


_FEWEST = 2


def with_work_read(frame: pl.DataFrame, rest: str, known: dict[str, str]) -> tuple[pl.DataFrame, pl.Series]:
    """Read what was done, and the part where no column has it, out of free words.

    Args:
        frame: String columns ``action`` and maybe ``part``, on their way to the layout.
        rest: What lines mean that name a part and say no work: an action, or ``left out``. Where no column has the
            parts, such a line is the part's name.
        known: What a mapping says of whole cells, in small letters; those are left as they are.

    Returns:
        The frame with actions and parts filled; and which rows are to be left out, being work on no part.
    """
    apart = "part" in frame.columns
    parts = frame["part"].to_list() if apart else [None] * frame.height
    actions, made, out = list[str | None](), list[str | None](), list[bool]()
    for text, part in zip(frame["action"].to_list(), parts, strict=True):
        action, name = _one(text, part, rest, known)
        if action is None and text is not None and not apart and rest != LEFT_OUT:
            action, name = rest, text
        actions.append(action)
        made.append(name)
        out.append(action is None)
    columns = {
        "action": pl.Series("action", actions, dtype=pl.String),
        "part": pl.Series("part", made, dtype=pl.String),
    }
    return frame.with_columns(**columns), pl.Series(out, dtype=pl.Boolean)


def _one(text: str | None, part: str | None, rest: str, known: dict[str, str]) -> tuple[str | None, str | None]:
    if text is not None and (text.lower() in known or known_in(ACTIONS, text) or folded(text) in RESETS):
        return text, part
    action, words = work_within(text or "")
    if action == "erase" and part is not None:
        action = None  # that the codes were erased says nothing of what was done to the part
    if action is None:
        return (rest, part) if part is not None and rest != LEFT_OUT else (None, part)
    if part is None and not words and action not in ("inspect", "software", "erase", *RESETS):
        return None, part
    return action, part if part is not None else words if action != "erase" and action not in RESETS else None
