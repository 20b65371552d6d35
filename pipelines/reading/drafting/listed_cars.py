"""Draft how a list of cars in words is cut: a line a car, ``* K-11: Corvane Alder (2017), plate MA 947 PC, EUR 9,290``.

The first line shows what stands where; its own words are kept, and every line of the list must fit.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from pipelines.reading.drafting.code_lines import fits
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.scan_lines import DATE, PLATE, escaped
from pipelines.reading.drafting.words import HEADINGS, PLATES, folded
from pipelines.reading.mapping.cut_lines import LineCuts

_FEWEST, _ENOUGH, _FEWEST_TOLD = 3, 0.5, 4
BULLET = r"(?:[-*•·>–+]|\d{1,3}[.)])\s+"
_CAR = rf"(?:{PLATE}|[A-Z]{{1,4}}-?\d{{2,6}})"
_BEGINS = re.compile(rf"\s*(?:{BULLET})?(?:[^\W\d_]{{2,12}}\.?\s+)?({_CAR})(?=[\s:;,|(–-])\s*")
MONEY_SIGN = r"(?i:eur|euro|usd|gbp|chf|pln|zł|€|£|\$)"
AMOUNT = r"[0-9]+(?:[.,' ]?[0-9]+)*"
_PRICE = re.compile(rf"{MONEY_SIGN}\s?({AMOUNT})(?:[.,][-–]+)?|({AMOUNT})(?:[.,][-–]+)?\s?{MONEY_SIGN}")
_YEAR = re.compile(r"(?<![\d.,])((?:19[5-9]|20[0-4])\d)(?![\d.,]\d|\d)")
_PLATE = re.compile(rf"(?<![\w-])({PLATE})(?![\w-])")
_DISTANCE = re.compile(rf"{AMOUNT}\s?(?i:km|mi|miles)\b")
_NAMES = re.compile(r"[\s:,|–-]*([^\W\d_][^\s,;:|()]*)\s+([^\s,;:|()][^,;:|()]*?)\s*(?=[,;:|()]|$)")


_A_NAME = r"\S[^,;:|()]*?"  # no name goes on over what may be missing behind it
_LEFT = "left"
"""The groups of what nothing reads."""


@dataclass(frozen=True)
class Span:
    """What stands in a line: the column, where, and the pattern that reads it."""

    column: str
    start: int
    end: int
    pattern: str


def cars_in(lines: Sequence[str]) -> LineCuts | None:
    """Return how the lines of a list of cars are cut; None where they are none, or do not all stand alike."""
    filled = [line.rstrip() for line in lines if line.strip()]
    listed = [line for line in filled if _BEGINS.match(line)]
    if len(listed) < _FEWEST or len(listed) < _ENOUGH * len(filled):
        return None
    fullest = max(listed, key=lambda line: len(_spans(line)))
    spans = _spans(fullest)
    told = {span.column for span in spans}
    if len(told) < _FEWEST_TOLD or not {"vehicle", "make", "model"} <= told:
        return None
    cut = _with_gaps(fullest, spans)
    if not all(fits(cut, line) for line in listed):
        cut = cut_like(listed[0], _spans(listed[0]), listed)
    return LineCuts(cut) if all(fits(cut, line) for line in listed) else None


def _with_gaps(line: str, spans: Sequence[Span]) -> str:
    """Return the pattern of a line in which all but number and name of the car may be missing, with its words."""
    made, at = "^", 0
    if any(DATE.search(line[one.end : other.start]) for one, other in pairwise(spans)):
        return r"^\b$"  # a day of something that nothing here reads stands between: no line fits
    for span in spans:
        pattern = _A_NAME if span.column == "model" else span.pattern
        piece = _words(line[at : span.start]) + f"(?<{span.column}>{pattern})"
        made += piece if span.column in ("vehicle", "make", "model") else f"(?:{piece})?"
        at = span.end
    return made + _words(line[at:].rstrip()) + r"[\s.,;)]*$"


def ask_list(draft: Draft, lines: Sequence[str], how: LineCuts) -> None:
    """Ask about what stands in the lines of a list of cars besides what is read."""
    told = (match.groupdict() for line in lines if (match := fits(how.cut, line)))
    left = sorted({text.strip() for one in told for name, text in one.items() if name.startswith(_LEFT) and text})
    if any(left):
        asks = f"Words like {', '.join(map(repr, [one for one in left if one][:_FEWEST]))} stand in the lines"
        why = "they differ from car to car, and nothing here reads them"
        draft.ask_leave("lines.left", f"{asks}; may they be left out?", why)


def _spans(line: str) -> list[Span]:
    """Return what a line tells of a car, in its order."""
    begin = _BEGINS.match(line)
    assert begin is not None
    found = [Span("vehicle", *begin.span(1), r"\S*\d\S*?" if " " not in begin[1] else _CAR)]
    names = _NAMES.match(line, begin.end(1))
    if names is not None:
        found += [Span("make", *names.span(1), r"[^\W\d_]\S*"), Span("model", *names.span(2), r"\S.*?")]
    for match in DATE.finditer(line):
        column = _labelled(line[: match.start()], ("bought_on", "sold_on"))
        if column is not None and _free(found, match.start()):
            found.append(Span(column, *match.span(), r"\S[^,;|()]*?"))
    price = next((one for one in _PRICE.finditer(line) if _free(found, one.start())), None)
    if price is not None:
        group = 1 if price[1] else 2
        found.append(Span("asking_price", *price.span(group), AMOUNT))
    plate = next((one for one in _PLATE.finditer(line) if _free(found, one.start(1))), None)
    if plate is not None and _is_plate(line[: plate.start(1)]):
        found.append(Span("plate", *plate.span(1), r"\S[^,;|()]*?"))
    year = next((one for one in _YEAR.finditer(line) if _free(found, one.start(1))), None)
    if year is not None:
        found.append(Span("model_year", *year.span(1), r"(?:19|20)\d\d"))
    return sorted(found, key=lambda span: span.start)


def _free(found: Sequence[Span], place: int) -> bool:
    return not any(span.start <= place < span.end for span in found)


def _last_words(text: str) -> str:
    return folded(re.split(r"[,;|()]|\d", text)[-1])


def _labelled(before: str, columns: Sequence[str]) -> str | None:
    words = _last_words(before)
    return next((name for name in columns if any(f" {one} " in f" {words} " for one in HEADINGS["stock"][name])), None)


def _is_plate(before: str) -> bool:
    words = _last_words(before)
    return not words or any(f" {one} " in f" {words} " for one in PLATES)


def cut_like(line: str, spans: Sequence[Span], listed: Sequence[str]) -> str:
    """Return the pattern of a line: its own words between what it tells, pieces that differ passed over."""
    made, at, loose = "^", 0, 0
    for span in spans:
        words = line[at : span.start]
        strict = made + _words(words) + f"(?<{span.column}>{span.pattern})"
        if all(fits(strict, other) for other in listed):
            made = strict
        else:
            loose += 1
            made += (
                f"(?<left{loose}>.*?)"
                + _words(re.findall(r"[^\w\s]?\s*$", words)[0])
                + f"(?<{span.column}>{span.pattern})"
            )
        at = span.end
    end = _words(line[at:]) + r"\s*$"
    if all(fits(made + end, other) for other in listed):
        return made + end
    return made + rf"(?<{_LEFT}{loose + 1}>[\s.,;|()–-].*)?$"


def _words(text: str) -> str:
    """Return the pattern of words: numbers of the list, and blanks, may be others."""
    pieces = re.findall(r"\d+|\s+|[^\d\s]+", text)
    return "".join(r"\d+" if one.isdigit() else r"\s+" if one.isspace() else escaped(one) for one in pieces)
