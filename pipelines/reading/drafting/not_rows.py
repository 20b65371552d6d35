"""Which rows of a table are none of its rows: sums, rules, pages, labels of heads, notes at the foot, names again."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from pipelines.reading.drafting.guessing import holds_code, says_nothing
from pipelines.reading.drafting.numbers import looks_like_number
from pipelines.reading.drafting.scan_lines import escaped, fields
from pipelines.reading.drafting.words import Modules
from pipelines.reading.mapping.table_surroundings import row_text

_SUM = (
    r"(?i)^(?:total|totals|(?:zwischen|teil|gesamt|end)?summe|sub-?\s?total\w*|sous-?\s?total"
    r"|(?:sub-?\s?)?totaal|totaux|sum|gesamt|somme"
    r"|aantal|antall?|nombre de|liczba|n[uú]mero d[ei]"
    r"|totale|suma|razem|summa|celkem|yhteens[aä]|count|anzahl|page|seite|blatt|p[aá]g(?:ina)?|strona|sida|sivu|folio"
    r"|end of|ende)\b"
)
_WORDS = re.compile(r"[^\W\d_][^\d:]*:?")
_FEWEST_TOLD, _FEW_WORDS, _A_SENTENCE = 2, 4, 6
_MOST_LABELS = 12
_PROGRAMS_NAME = re.compile(r"[A-Za-z]+(?:_[A-Za-z]+)*")
_PAGE = r"(?i)\b(?:page|seite|p[aá]gina|strona|sida|blatt|sivu)\s*\d+(?:\s*(?:/|of|von|sur|de|di|van|z|av)\s*\d+)?\s*$"
_COUNTED = (
    r"(?i)^\W*(?:errori|codici|guasti|fehler|fouten|storingen|d[eé]fauts|faults?|errors?|codes?|aver[ií]as|errores"
    r"|fallos|b[lł][eę]d[yó]w?|usterki)\b[^\d:=]{0,40}[:=] ?\d+\W*$"
)
"""A row that counts the codes above it, and is none."""
_TO_SIGN = r"^[^\W\d_][^\d_]{1,40}:? ?_{4,}\W*$"
"""A line to be filled by hand: ``Signed: ______``."""
_FOOTNOTE = r"^[*†‡¹²³]+\)? *[^\W\d_]"
_LEGEND = r"^(?:[^\W\d_]{1,12} ?: ?)?(?:[^\W\d_]{1,12}|[–—.?~#°-]) ?= ?[^\W\d_].*"
EXPLAINS = re.compile(r"(?:^|[\s,;(])[^\W\d_][^\W\d_.]{0,7} ?= ?[^\W\d_]{3,}")
"""Words that explain a short one: what a note at the foot of a table has."""
_RULE = r"^[\s|:=_+-]{3,}$"


def no_rows(rows: Sequence[Sequence[str]], is_module: Modules) -> list[str]:
    """Return the patterns of those rows below a header that are no rows of its table.

    Args:
        rows: The rows.
        is_module: Whether a text names a module.
    """
    texts = [text for text in map(row_text, rows) if not holds_code(text)]
    skips = [
        pattern
        for pattern in (_SUM, _RULE, _PAGE, _COUNTED, _TO_SIGN)
        if any(re.search(pattern, text) for text in texts)
    ]
    skips += [*_sum_rows(rows, skips), *_label_rows(rows, is_module), *_names_again(rows)]
    skips += [*units_below(rows), *_footnotes(rows)]
    titles = _titles(rows, is_module)
    return [*skips, *([rf"^(?:{'|'.join(map(escaped, titles))})$"] if titles else [])]


def _titles(rows: Sequence[Sequence[str]], is_module: Modules) -> list[str]:
    """Return the words that stand alone in rows of a table of several columns, the same again and again: titles."""
    alone: dict[str, int] = {}
    for cells, following in pairwise(rows):
        text = row_text(cells)
        # What a label and its value follow is the title of a section; a module without a code may stand alone too.
        if sum(bool(cell.strip()) for cell in cells) == 1 and not holds_code(text) and fields(row_text(following)):
            alone[text] = alone.get(text, 0) + 1
    if len(alone) > _FEW_WORDS:
        return []
    return sorted(
        text
        for text in alone
        if not is_module(text) and not says_nothing(text) and not fields(text) and _WORDS.fullmatch(text)
    )


def _sum_rows(rows: Sequence[Sequence[str]], skips: Sequence[str]) -> list[str]:
    """Return the pattern of rows that hold words and a number and nothing else, below rows of many cells: sums."""
    filled = [[cell.strip() for cell in cells if cell.strip()] for cells in rows]
    most = sorted(map(len, filled))[len(filled) // 2] if filled else 0
    words = {
        cells[0]
        for cells in filled
        if len(cells) == 2 and most > 2 * len(cells) and _WORDS.fullmatch(cells[0]) and looks_like_number(cells[1])
    }
    words = {word for word in words if not any(re.search(pattern, word) for pattern in skips)}
    return [rf"^(?:{'|'.join(sorted(map(escaped, words)))})(?:\s|$)"] if 0 < len(words) <= _FEW_WORDS else []


def _label_rows(rows: Sequence[Sequence[str]], is_module: Modules) -> list[str]:
    """Return the pattern of rows with a label and its value, some together, between rows of many cells: heads of scans.

    What they tell of the rows below is taken by patterns of its own; a label that none takes is no row of the table.
    """
    filled = [[cell.strip() for cell in cells if cell.strip()] for cells in rows]
    most = sorted(map(len, filled))[len(filled) // 2] if filled else 0
    labelled = [
        len(cells) == _FEWEST_TOLD
        and most > _FEWEST_TOLD * len(cells)
        and _WORDS.fullmatch(cells[0]) is not None
        and not is_module(cells[0])
        and not any(holds_code(cell) or says_nothing(cell) for cell in cells)
        for cells in filled
    ]
    beside = [
        one and (other or before)
        for one, other, before in zip(labelled, [*labelled[1:], False], [False, *labelled], strict=False)
    ]
    labels = [cells[0] for cells, one in zip(filled, beside, strict=True) if one]
    often = sorted({label for label in labels if labels.count(label) > 1})
    return [rf"^(?:{'|'.join(map(escaped, often))})(?:\s|$)"] if 0 < len(often) <= _MOST_LABELS else []


def _footnotes(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return the patterns of notes at the foot of a table, alone in rows behind all others.

    A note begins with a mark, or is a sentence, or tells what short words in the table mean.
    """
    foot = 0
    while foot < len(rows) and sum(bool(cell.strip()) for cell in rows[-1 - foot]) == 1:
        foot += 1
    noted = any(re.search(_FOOTNOTE, row_text(cells)) for cells in rows[len(rows) - foot :])
    made = [_FOOTNOTE] if noted and not any(re.search(_FOOTNOTE, row_text(cells)) for cells in rows[:-foot]) else []
    said = [row_text(cells) for cells in rows[len(rows) - foot :] if len(cells) >= _FEW_WORDS]
    said = [text for text in said if len(text.split()) >= _A_SENTENCE and not holds_code(text) and not fields(text)]
    made += [rf"^{escaped(text)}$" for text in said if foot < len(rows) and not re.search(_FOOTNOTE, text)]
    explained = [row_text(cells) for cells in rows[len(rows) - foot :] if len(cells) >= _FEW_WORDS]
    if foot < len(rows) and any(EXPLAINS.search(text) and not holds_code(text) for text in explained):
        explaining = rf"(?i){EXPLAINS.pattern}"
        made += [] if any(re.search(explaining, row_text(cells)) for cells in rows[:-foot]) else [explaining]
    legend = rows[-1:] and 2 * sum(bool(cell.strip()) for cell in rows[-1]) <= len(rows[0])
    texts = [row_text(cells) for cells in rows]
    if legend and re.search(_LEGEND, texts[-1]) and not any(re.search(_LEGEND, text) for text in texts[:-1]):
        made.append(_LEGEND)
    return made


def _names_again(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return the pattern of a first row that names the columns once more, as programs do: ``k_veh``, ``k_date``."""
    first = [cell.strip() for cell in rows[0] if cell.strip()] if len(rows) > 1 else []
    parted = sum("_" in cell for cell in first)
    names = len(first) >= _FEW_WORDS and 2 * parted > len(first) and all(map(_PROGRAMS_NAME.fullmatch, first))
    return [rf"^{escaped(row_text(rows[0]))}$"] if names and len({*first}) == len(first) else []


def units_below(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return the pattern of a first row that tells the units of the columns, in brackets or by their signs."""
    first = [cell.strip() for cell in rows[0] if cell.strip()] if len(rows) > 1 else []
    units = len(first) > 1 and all(_A_UNIT.fullmatch(cell) for cell in first)
    return [rf"^{escaped(row_text(rows[0]))}$"] if units else []


_A_UNIT = re.compile(
    r"[(\[<][^()\[\]<>\d]{1,20}[)\]>]|(?i:km|mi|miles|min|minutes|hours?|h|std|eur|€|\$|£|n|#|hex|text|date|d|yyyy-mm-dd"
    r"|dd[./-]mm[./-]yyyy)"
)
