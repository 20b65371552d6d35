"""Draft what takes one thing out of cells that hold several: a car, a vehicle number, make and model, codes."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from pipelines.reading.drafting.code_lines import fits, groups_in, piece_pattern, pieces_of
from pipelines.reading.drafting.draft import Draft, literal
from pipelines.reading.drafting.guessing import VIN_INSIDE, Guess, Source, holds_code, holds_vins, says_nothing
from pipelines.reading.drafting.words import HEADINGS, Modules, folded

_VIN_LENGTH = 17


_CAR_IN_WORDS = (
    r"^(?:(?<model_year>(?:19|20)[0-9]{2})\s+)?(?<make>[^\W\d_][^\s]*)\s+(?<model>[^\s(,]+)"
    r"(?:[\s,]+(?<engine>[0-9][.,][0-9][^()]*?))?(?:[\s,(]+(?<model_year_2>(?:19|20)[0-9]{2})\)?)?$"
)


_CAR_WITH_SLASH = r"^(?<make>[^\W\d_][^/]*?)\s*/\s*(?<model>[^/]+)$"


def make_and_model(
    draft: Draft, guesses: Sequence[Guess], sources: Mapping[str, Source]
) -> tuple[list[Guess], dict[str, str]]:
    """Draft the column that holds make and model in one cell, where no columns do; return what it tells beside."""
    found = {guess.column: guess.source for guess in guesses}
    if {"make", "model"} <= found.keys():
        return [*guesses], {}
    taken = {source for column, source in found.items() if column not in ("make", "model", "engine", "model_year")}
    for name, source in sources.items():
        if name not in taken and len(source.filled) > 1 and all(fits(_CAR_WITH_SLASH, cell) for cell in source.filled):
            why = f"cells like {source.filled[0]!r} hold both, with a slash between"
            asks = f"Does {name!r} hold make and model, like {source.filled[0]!r}?"
            both = [folded(one) for one in re.split(r"[/&+,]|\b(?:and|und|et|en|e|y|i)\b", name)]
            kinds = (HEADINGS["stock"]["make"], HEADINGS["stock"]["model"])
            named = len(both) == len(kinds) and all(one in kind for one, kind in zip(both, kinds, strict=True))
            named = named or {"make", "model"} <= {*folded(name).split()}
            if named and draft.ask("pick.make", asks, "yes", why, ("yes", "no")) == "yes":
                draft.line(f"make = {literal(_CAR_WITH_SLASH)}", "pick")
                draft.reasons.append(f"make: {why}")
                kept = [guess for guess in guesses if guess.column not in ("make", "model") and guess.source != name]
                return [*kept, Guess("make", name, why)], {"make": name, "model": name}
        matches = [fits(_CAR_IN_WORDS, cell) for cell in source.filled]
        if name in taken or len(matches) < 2 or not all(matches):
            continue
        groups = [
            group for group in ("model_year", "make", "model", "engine") if group not in found or found[group] == name
        ]
        used = [group for group in groups if any(match and match[group] for match in matches)]
        if not {"make", "model"} <= {*used} or (len({match["make"] for match in matches if match}) == len(matches) > 5):
            continue
        asks = f"Does {name!r} hold make and model, like {source.filled[0]!r}?"
        why = "each cell has a word and another behind it, and no other column has the make"
        if draft.ask("pick.make", asks, "yes", why, ("yes", "no")) != "yes":
            continue
        pattern = _CAR_IN_WORDS.replace(
            r"(?:[\s,(]+(?<model_year_2>(?:19|20)[0-9]{2})\)?)?$", r"(?:[\s,(]+(?:19|20)[0-9]{2}\)?)?$"
        )
        for group in ("model_year", "engine"):
            if group not in used:
                pattern = pattern.replace(f"(?<{group}>", "(?:")
        draft.line(f"make = {literal(pattern)}", "pick")
        draft.reasons.append(f"make: cells like {source.filled[0]!r} hold {', '.join(used)}")
        kept = [guess for guess in guesses if guess.column not in used and guess.source != name]
        return [*kept, Guess("make", name, why)], dict.fromkeys(("model", *used), name)
    return [*guesses], {}


def put_vin_pick(draft: Draft, cells: Sequence[str]) -> None:
    """Draft what takes the vehicle number out of cells that hold other words too."""
    if not all(len(cell) == _VIN_LENGTH for cell in cells) and holds_vins(cells):
        draft.line(f"vin = {literal(VIN_INSIDE)}", "pick")
        draft.reasons.append(f"vin: it stands inside cells like {cells[0]!r}")


_CAR_IN_BRACKETS = r"[(\[]\s*([^()\[\]]*[0-9][^()\[\]]*?)\s*[)\]]\s*$"
_CAR_BEFORE_WORDS = r"^\s*([A-Z]{1,4}-?[0-9]{2,6})(?:\s*[,/–-]\s*|\s+)[^\W\d_]{2}"
_SHORTEST = 3
_NO_PLATE_ENDS_SO = re.compile(r"[^\W\d_]{4}")
"""Number plates end in three letters at most: more are a word."""
_CUTS = {"number": "the number alone is the car's", "cell": "the whole cell is the car's number"}


def put_vehicle_pick(draft: Draft, cells: Sequence[str], beside: Sequence[Sequence[str]]) -> None:
    """Draft what takes the car's number out of cells with make and model beside it; never cut a plate or number.

    Letters behind a number belong to it (``LN-733 PB``), unless another cell of the row has the same word, or they are
    words, which is asked.

    Args:
        draft: Gets the lines.
        cells: The cells that name the cars.
        beside: Of each of them, the other cells of its row.
    """
    numbers = _cut_alike(_CAR_IN_BRACKETS, cells)
    if all(sum(map(str.isalnum, number)) >= _SHORTEST for number in numbers) and numbers:
        _put_cut(draft, _CAR_IN_BRACKETS, cells)
        return
    numbers = _cut_alike(_CAR_BEFORE_WORDS, cells)
    if not numbers:
        return
    words = [_first_word(cell[cell.index(number) + len(number) :]) for cell, number in zip(cells, numbers, strict=True)]
    if all(any(word in folded(other).split() for other in others) for word, others in zip(words, beside, strict=True)):
        _put_cut(draft, _CAR_BEFORE_WORDS, cells)
    elif all(map(_NO_PLATE_ENDS_SO.match, words)):
        asks = f"Of cells like {cells[0]!r}, is {numbers[0]!r} alone the car's number?"
        why = "words stand behind the number"
        proposal = "number" if all(re.search(r"[a-z]{2}", cell) for cell in cells) else None
        if draft.ask("pick.vehicle", asks, proposal, why, [*_CUTS], means=_CUTS) == "number":
            _put_cut(draft, _CAR_BEFORE_WORDS, cells)


def _cut_alike(pattern: str, cells: Sequence[str]) -> list[str]:
    """Return what a pattern takes out of cells, where it takes something of each, and as many as they are."""
    found = [match[1] for cell in cells if (match := fits(pattern, cell))]
    return found if 1 < len(found) == len(cells) and len({*found}) == len({*cells}) else []


def _put_cut(draft: Draft, pattern: str, cells: Sequence[str]) -> None:
    draft.line(f"vehicle = {literal(pattern)}", "pick")
    draft.reasons.append(f"vehicle: it stands inside cells like {cells[0]!r}")


def _first_word(text: str) -> str:
    return next(iter(folded(text).split()), "")


def put_wide_pick(draft: Draft, cells: Sequence[str], is_module: Modules) -> dict[str, list[str]]:
    """Draft what takes code and state out of the cells of columns that are modules; return what it takes."""
    coded = [cell for cell in dict.fromkeys(cells) if holds_code(cell) or not says_nothing(cell)]
    pieces = pieces_of(coded) if coded else None
    pattern = piece_pattern(pieces, is_module) if pieces else ""
    if not pieces or "status" not in groups_in(pattern):
        return {}
    matches = [match for piece in pieces if (match := fits(pattern, piece))]
    if len(matches) < len(pieces):
        return {}
    draft.line(f"code = {literal(pattern)}", "pick")
    draft.reasons.append(f"code: cells like {pieces[0]!r} hold {', '.join(groups_in(pattern))}")
    return {name: [match[name] or "" for match in matches] for name in groups_in(pattern) if name != "code"}
