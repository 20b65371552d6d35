"""Columns without a heading that is known, by how their cells stand beside those of the codes."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from itertools import pairwise

from analysis.vocabulary.vin import FULL_VIN
from pipelines.reading.drafting.answer_words import says_answered
from pipelines.reading.drafting.crosses import is_no, is_yes
from pipelines.reading.drafting.date_guesses import date_guess
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.guessing import ANOTHER_DISTANCE, Guess, Source, holds_code, list_of, tells_kind_of_scan
from pipelines.reading.drafting.numbers import looks_like_number
from pipelines.reading.drafting.words import HEADINGS, NO_CODES, SILENT, STATUS, folded, known_in
from pipelines.reading.mapping.dates import read_date

_ENOUGH, _MOSTLY = 0.6, 0.8
_FEW, _SHORT = 6, 3
_BARE = re.compile("[PCBUpcbu][0-3][0-9A-Fa-f]{3}")
_BYTE = re.compile("(?:0[xX])?[0-9A-Fa-f]{2}")
_PLAIN_WORDS = re.compile(r"[^\W\d_]+(?:[ -][^\W\d_]+){0,2}")
_NAME_OF_CAR = re.compile(r"[^\W\d_]{4}")


def worded(guesses: Sequence[Guess], sources: Mapping[str, Source]) -> list[Guess]:
    """Guess the wordings of codes by what they are: words, the same ones beside every cell of the same code."""
    found = {guess.column: guess.source for guess in guesses}
    if "code" not in found or "text" in found:
        return []
    codes = sources[found["code"]].cells
    for name, source in sources.items():
        if len(source.cells) != len(codes):
            continue  # paths of JSON that walk through other lists
        pairs = {(code, cell) for code, cell in zip(codes, source.cells, strict=True) if code.strip() and cell.strip()}
        alone = any(cell.strip() and not code.strip() for code, cell in zip(codes, source.cells, strict=True))
        worded = [cell for _, cell in pairs if len(re.findall(r"[^\W\d_]{2,}", cell)) > 1]
        if (
            name not in found.values()
            and not alone
            and not tells_kind_of_scan(source.filled)
            and len({code for code, _ in pairs}) == len(pairs) > 2
            and len(worded) >= _ENOUGH * len(pairs)
        ):
            return [Guess("text", name, f"every code has one wording in {name!r}")]
    return []


_UNNAMED = re.compile("column [A-Z]{1,2}")
_CAR = re.compile(r"(?=.*\d)[A-Za-z0-9]{1,5}(?:[ -][A-Za-z0-9]{1,4}){0,2}")
_FEWEST_SCANS = 2
_FEW_KM, _LARGE_KM, _MANY_KM = 500, 5_000, 1_500_000


def unnamed(guesses: Sequence[Guess], sources: Mapping[str, Source]) -> list[Guess]:
    """Guess the car and the odometer of a table without names, by how they go together.

    A car's number comes again and again; an odometer is one number a car and moment, and never falls from one scan of
    a car to its next.
    """
    found = {guess.column: guess.source for guess in guesses}
    if not sources or not all(map(_UNNAMED.fullmatch, sources)) or "scanned_at" not in found:
        return []
    moments = sources[found["scanned_at"]].cells
    made = []
    left = [source for name, source in sources.items() if name not in found.values()]
    cars = found.get("vehicle") or found.get("vin")
    if cars is None:
        like = [
            one
            for one in left
            if one.filled and all(map(_CAR.fullmatch, one.filled)) and not all(map(looks_like_number, one.filled))
        ]
        alike = [one for one in like if 1 < len({*one.cells}) <= 0.6 * len(one.cells) and all(one.cells)]
        if len(alike) == 1:
            cars = alike[0].name
            made.append(Guess("vehicle", cars, "its cells are like numbers of cars, and no other column's are"))
    if cars is not None and "odometer" not in found:
        for one in left:
            numbers = [re.sub(r"\D", "", cell) for cell in one.cells]
            if one.name == cars or not all(numbers) or not all(map(looks_like_number, one.filled)):
                continue
            if all(_FEW_KM <= int(number) <= _MANY_KM for number in numbers) and _rises(
                sources[cars].cells, moments, numbers
            ):
                made.append(Guess("odometer", one.name, "it is one number a car and moment, and never falls"))
                break
    return made


def _rises(cars: Sequence[str], moments: Sequence[str], numbers: Sequence[str]) -> bool:
    told: dict[tuple[str, str], set[int]] = {}
    for car, moment, number in zip(cars, moments, numbers, strict=False):
        told.setdefault((car, moment), set()).add(int(number))
    if any(len(one) > 1 for one in told.values()):
        return False
    form = date_guess([moment for _, moment in told]).form
    if form is None:
        return False
    by_car: dict[str, list[tuple[datetime, int]]] = {}
    for (car, moment), one in told.items():
        read = read_date(moment.strip(), form)
        if read is not None:
            by_car.setdefault(car, []).append((read, one.pop()))
    rows = [sorted(one) for one in by_car.values()]
    return all(a[1] <= b[1] for one in rows for a, b in pairwise(one))


def typed(guesses: Sequence[Guess], sources: Mapping[str, Source]) -> list[Guess]:
    """Guess the failure types of codes by what they are: two hex digits beside bare codes, blank beside numbers."""
    found = {guess.column: guess.source for guess in guesses}
    if "code" not in found or "failure_type" in found:
        return []
    codes = [cell.strip() for cell in sources[found["code"]].cells]
    bare = [_BARE.fullmatch(code) is not None for code in codes]
    for name, source in sources.items():
        if name in found.values() or len(source.cells) != len(codes):
            continue
        cells = [cell.strip() for cell in source.cells]
        beside = [is_bare for cell, is_bare in zip(cells, bare, strict=True) if cell]
        bytes_only = all(_BYTE.fullmatch(cell) for cell in cells if cell) and any(cell[:1] == "0" for cell in cells)
        numbers = any(code and not is_bare and not cell for code, is_bare, cell in zip(codes, bare, cells, strict=True))
        if bytes_only and numbers and all(beside) and len(beside) >= 0.5 * sum(bare):
            return [Guess("failure_type", name, f"two hex digits stand in {name!r} beside codes, and beside no others")]
    return []


def stated(guesses: Sequence[Guess], sources: Mapping[str, Source]) -> list[Guess]:
    """Guess the status bytes of codes: two hex digits beside each code under a heading of bytes, not always the same.

    A failure type is part of what a code means and stays with it; its status changes from one reading to the next.
    """
    found = {guess.column: guess.source for guess in guesses}
    if "code" not in found or "status" in found:
        return []
    codes = [cell.strip().upper() for cell in sources[found["code"]].cells]
    for name, source in sources.items():
        if name in found.values() or len(source.cells) != len(codes) or not _BYTES_BY_NAME & {*_last_words(source)}:
            continue
        pairs = {(code, cell.strip().upper()) for code, cell in zip(codes, source.cells, strict=True) if cell.strip()}
        bytes_only = bool(pairs) and all(code and _BYTE.fullmatch(cell) for code, cell in pairs)
        if bytes_only and len(pairs) > len({code for code, _ in pairs}):
            return [Guess("status", name, f"a byte stands beside each code in {name!r}, not always the same one")]
    return []


def _last_words(source: Source) -> list[str]:
    return source.headings[0].replace("|", " ").split() if source.headings else []


_BYTES_BY_NAME = {"byte", "bytes", "bajt", "bajty", "octet", "oktett", "mask", "bitmask", "maske", "masque", "mascara"}


def answered(guesses: Sequence[Guess], sources: Mapping[str, Source]) -> list[Guess]:
    """Guess the column that says of modules without a code that they did not answer, by its words.

    Its other words may say that a module has no code, or answered; where any says something else, it is a column of
    remarks.
    """
    found = {guess.column: guess.source for guess in guesses}
    if "module_state" in found or not {"module", "code"} <= found.keys():
        return []
    codes = sources[found["code"]].cells
    for name, source in sources.items():
        if name in found.values() or not source.filled or len(source.cells) != len(codes):
            continue
        silent = [cell for cell in source.filled if SILENT.search(cell)]
        others = [cell for cell in source.filled if cell not in silent]
        pairs = [(code, cell.strip()) for code, cell in zip(codes, source.cells, strict=True) if holds_code(code)]
        bare = not any(cell in silent or (cell.strip("-–—./") and not says_answered(cell)) for _, cell in pairs)
        if not silent and _only_no_is_bare(codes, source):
            return [Guess("module_state", name, f"cells with a no in {name!r} have no code, those with a yes may")]
        if bare and silent and all(NO_CODES.search(cell) or says_answered(cell) for cell in others):
            return [Guess("module_state", name, f"cells like {silent[0]!r} say that a module did not answer")]
    return []


def _only_no_is_bare(codes: Sequence[str], source: Source) -> bool:
    """Say whether a column is a yes or a no, no code stands beside a no, and beside a yes some do and some do not.

    A unit that answers may have codes or none; of one that has codes, a word for that would stand beside each yes.
    """
    pairs = [
        (holds_code(code), cell.strip().lower()) for code, cell in zip(codes, source.cells, strict=True) if cell.strip()
    ]
    yes = {coded for coded, cell in pairs if is_yes(cell)}
    no = {coded for coded, cell in pairs if is_no(cell)}
    return yes == {True, False} and no == {False} and all(is_yes(cell) or is_no(cell) for _, cell in pairs)


def without_counts_above(guesses: Sequence[Guess]) -> list[Guess]:
    """Leave out a count that stands above the list of codes of its path: it counts the codes of a module."""
    codes = next((list_of(guess.source) for guess in guesses if guess.column == "code"), "")
    return [
        guess
        for guess in guesses
        if guess.column != "occurrences"
        or list_of(guess.source) == codes
        or not codes.startswith(list_of(guess.source))
    ]


def without_names(guesses: Sequence[Guess], sources: Mapping[str, Source]) -> list[Guess]:
    """Leave out a column for the car that holds makes and models, where another one has vehicle numbers.

    Two cars of one model are two: a name is no car's own number, and as one it would make one car of them.
    """
    found = {guess.column: guess.source for guess in guesses}
    if not {"vehicle", "vin"} <= found.keys():
        return list(guesses)
    cars, vins = sources[found["vehicle"]], sources[found["vin"]]
    names = sum(_NAME_OF_CAR.search(cell) is not None or not re.search(r"\d", cell) for cell in cars.filled)
    vin_of: dict[str, set[str]] = {}
    if len(cars.cells) == len(vins.cells):
        for car, vin in zip(cars.cells, vins.cells, strict=True):
            if car.strip() and vin.strip():
                vin_of.setdefault(car.strip().lower(), set()).add(vin.strip().upper())
    shared = any(len(numbers) > 1 for numbers in vin_of.values())
    if not shared and names < 0.5 * max(1, len(cars.filled)):
        return list(guesses)
    return [guess for guess in guesses if guess.column != "vehicle"]


def halves_of_vin(name: str, sources: Mapping[str, Source]) -> list[str]:
    """Return the two columns that make whole vehicle numbers together, one of them given; none where there are none."""
    columns = list(sources)
    at = columns.index(name)
    pairs = [(columns[at], other) for other in columns[at + 1 : at + 2]] + [
        (other, name) for other in columns[:at][-1:]
    ]
    for first, second in pairs:
        rows = [
            (one.strip() + other.strip()).upper()
            for one, other in zip(sources[first].cells, sources[second].cells, strict=False)
            if one.strip() or other.strip()
        ]
        if (
            rows
            and all(map(FULL_VIN.fullmatch, rows))
            and sources[first].stem.split()[:1] == sources[second].stem.split()[:1]
        ):
            return [first, second]
    return []


def _names_persons(heading: str) -> bool:
    """Say whether a heading is one of a column that says who did something, by name or initials."""
    return _PERSON.search(folded(heading)) is not None


_PERSON = re.compile(
    r"^(?:who|name|(?:\w+ )?by)$"
    r"|\b(?:initials?|mechanic|technician|tech|fitter|operator|user|inspector|staff|employee|mechaniker"
    r"|monteur|techniker|bearbeiter|prufer|kurzel|mitarbeiter|mecanicien|technicien|operateur|initiales|paraphe"
    r"|mecanico|tecnico|operario|iniciales|meccanico|operatore|sigla|iniziali|technicus|paraaf|initialen|mechanik"
    r"|diagnosta|inicjaly|wykonal|mekaniker|tekniker|signatur)\b"
)


def ask_odometer(
    draft: Draft, chosen: Mapping[str, list[str]], unused: Sequence[Source], sources: Mapping[str, Source]
) -> None:
    """Ask about columns of numbers as large as odometers that go with cars and days as they do, where none is taken."""
    names = [chosen.get("vehicle") or chosen.get("vin"), chosen.get("scanned_at")]
    cars, moments = (sources[one[0]].cells if one else () for one in names)
    if "odometer" in chosen or len({*zip(cars, moments, strict=False)}) < _FEWEST_SCANS:
        return
    for source in unused:
        digits = [re.sub(r"\D", "", cell) for cell in source.cells]
        large = sum(_LARGE_KM < int(number or 0) < _MANY_KM for number in digits)
        numbers = all(map(looks_like_number, source.filled)) and large >= _MOSTLY * len(digits)
        bare = _UNNAMED.fullmatch(source.name) is not None  # without a name it may be any number, and is asked about
        another = ANOTHER_DISTANCE.search(folded(source.name))
        if source.filled and numbers and all(digits) and not another and (bare or _rises(cars, moments, digits)):
            asks = f"Which column is odometer? {source.name!r} has numbers like {source.filled[0]!r} (- for none)."
            draft.ask("columns.odometer", asks, None, "a distance is what tells how long a repair has held")
            return


def ask_beside(
    draft: Draft, chosen: Mapping[str, list[str]], unused: Sequence[Source], sources: Mapping[str, Source]
) -> None:
    """Ask about columns that are filled where codes are, with a few short words or marks: they may tell states."""
    if "status" in chosen or "code" not in chosen:
        return
    codes = sources[chosen["code"][0]].cells
    filled = sum(bool(code.strip()) for code in codes)
    told = {
        source.name
        for source in unused
        if source.filled
        and not tells_kind_of_scan(source.filled)
        and (known_in(STATUS, source.name) or source.headings[0].split("|")[0] in HEADINGS["scans"]["status"])
    }
    for source in unused:
        if len(source.cells) != len(codes) or _names_persons(source.name):
            continue  # paths of JSON that walk through other lists
        words = {cell.strip() for cell in source.cells if cell.strip()}
        rows = [bool(code.strip()) for code, cell in zip(codes, source.cells, strict=True) if cell.strip()]
        told_of = [(cell.strip(), bool(code.strip())) for code, cell in zip(codes, source.cells, strict=True)]
        beside = all(rows) and len(rows) >= _MOSTLY * filled
        short = all(len(word) <= _SHORT and not looks_like_number(word) for word in words)
        # Words that only rows with a code have, a few of them again and again, say something of the codes.
        apart = len(rows) < len(source.cells) and sum(map(bool, rows)) == len(rows)
        # Marks beside codes and other marks beside blanks: each says something of its module or its code.
        parted = not {cell for cell, coded in told_of if coded} & {cell for cell, coded in told_of if not coded}
        beside = beside or (short and parted and sum(map(bool, rows)) >= _MOSTLY * filled)
        plain = apart and all(_PLAIN_WORDS.fullmatch(word) for word in words) and len(rows) > 2 * len(words)
        many = filled > (1 if _UNNAMED.fullmatch(source.name) else _FEW)  # a column without a name may be any
        if many and beside and 1 < len(words) <= _FEW and (short or plain):
            told.add(source.name)
    if told:
        draft.ask(
            "columns.status",
            f"Which column is status ({', '.join(sorted(told))} may tell it; - for none)?",
            None,
            "cells beside the codes may tell their state, and not in a way that is known here",
        )
