"""Several columns that make one thing together: the two parts of a code, or year, month and day."""

from __future__ import annotations

import json
from collections.abc import Sequence

from pipelines.reading.drafting.crosses import parts_of_code
from pipelines.reading.drafting.guessing import Source, looks_like_code
from pipelines.reading.drafting.words import folded


def with_whole_codes(sources: dict[str, Source]) -> tuple[dict[str, Source], dict[str, list[str]]]:
    """Put columns that make whole codes together in one's place; return the columns, and what was joined."""
    parts = parts_of_code(sources)
    if not parts:
        return sources, {}
    name = json.dumps(parts, ensure_ascii=False)
    rows = zip(*(sources[part].cells for part in parts), strict=False)
    whole = Source(name, tuple("".join(cell.strip() for cell in row) for row in rows))
    made = {name if one == parts[0] else one: whole if one == parts[0] else source for one, source in sources.items()}
    return {one: source for one, source in made.items() if one not in parts[1:]}, {name: parts}


def without_halves(sources: dict[str, Source]) -> tuple[dict[str, Source], str | None]:
    """Leave out the columns of short codes and of failure types where another has both in one: C0037-29.

    Returns:
        The columns that are left, and the name of that with the short codes; None where there is none.
    """
    coded = [name for name, source in sources.items() if source.filled and all(map(looks_like_code, source.filled))]
    for whole in coded:
        for short in coded:
            rests = _rests(sources[whole].cells, sources[short].cells) if whole != short else None
            if rests is None:
                continue
            types = [
                name
                for name, source in sources.items()
                if len(source.cells) == len(rests) and [cell.strip().upper() for cell in source.cells] == rests
            ]
            return {name: source for name, source in sources.items() if name not in (short, *types)}, short
    return sources, None


def _rests(whole: Sequence[str], short: Sequence[str]) -> list[str] | None:
    """Return what stands behind each short code in the whole one; None where one does not begin the other."""
    if len(whole) != len(short):
        return None
    pairs = [(one.strip().upper(), other.strip().upper()) for one, other in zip(whole, short, strict=True)]
    begun = all(one.startswith(other) and bool(one) == bool(other) for one, other in pairs)
    longer = sum(len(one) > len(other) for one, other in pairs) > 1
    return [one.removeprefix(other).lstrip(" -:/") for one, other in pairs] if begun and longer else None


_YEARS = ("y", "yr", "year", "yyyy", "jahr", "annee", "an", "ano", "anno", "jaar", "rok", "ar")


_MONTHS = ("m", "mo", "month", "mm", "monat", "mois", "mes", "mese", "maand", "miesiac", "manad")


_DAYS = ("d", "day", "dd", "tag", "jour", "dia", "giorno", "dag", "dzien")


_HOURS = ("h", "hr", "hour", "hh", "stunde", "std", "heure", "hora", "ora", "uur", "godz", "godzina")


_MINUTES = ("min", "mins", "minute", "minuten", "mn", "minuto", "minuti", "minuut", "minuta")


def with_whole_dates(sources: dict[str, Source]) -> tuple[dict[str, Source], dict[str, list[str]]]:
    """Put columns of year, month and day, and of hour and minute, in one's place; return the columns and what was."""
    found: list[str] = []
    for words, least, most in (
        (_YEARS, 1990, 2100),
        (_MONTHS, 1, 12),
        (_DAYS, 1, 31),
        (_HOURS, 0, 23),
        (_MINUTES, 0, 59),
    ):
        name = next((name for name, source in sources.items() if folded(name) in words and source.filled), None)
        fits_in = name is not None and all(
            cell.removesuffix(".0").isdecimal() and least <= int(cell.removesuffix(".0")) <= most
            for cell in sources[name].filled
        )
        if name is None or not fits_in:
            break
        found.append(name)
    if len(found) < 3:
        return sources, {}
    found = found if len(found) != 4 else found[:3]
    whole = json.dumps(found, ensure_ascii=False)
    rows = zip(*(sources[name].cells for name in found), strict=True)
    cells = tuple(" ".join(cell.strip() for cell in row if cell.strip()) for row in rows)
    kept = {name: source for name, source in sources.items() if name not in found}
    return {whole: Source(whole, cells), **kept}, {whole: found}
