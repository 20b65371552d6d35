"""Draft how a price book in words is cut: a line a part, ``- Coil (pack): 34.90 EUR, 20 min, check 5 min``.

What may stand behind the name of a part stands there in one order, and each of it may be missing in a line.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipelines.reading.drafting.code_lines import fits
from pipelines.reading.drafting.listed_cars import AMOUNT, BULLET
from pipelines.reading.drafting.scan_lines import DATE, escaped
from pipelines.reading.drafting.words import HEADINGS, folded
from pipelines.reading.mapping.cut_lines import LineCuts

_FEWEST, _ENOUGH = 3, 0.6
_SIGN = r"(?:(?i:eur|euro|usd|gbp|chf|pln|zł|kr|kč|sek|dkk|czk)\b\.?|€|£|\$)"
_AMOUNT_OF = rf"(?<part_cost>{AMOUNT})(?:[.,][-–]+)?"
_COSTS = (
    rf"{_SIGN}\s*{_AMOUNT_OF}",
    rf"{_AMOUNT_OF}\s*{_SIGN}",
    r"(?<part_cost>[0-9]{1,3}(?:[.' ]?[0-9]{3})*[.,][0-9]{2})\b",
)
"""How a price stands in a line: behind the sign of money, in front of it, or without one, with its cents."""
_UNIT = r"(?:(?:min(?:s|ut\w*)?|mn|h|hrs?|hours?|std|stunden|heures?|horas?|ore|uur|godz|hod|timer?|tim)\b\.?|')"
_TIME = re.compile(rf"(?i)\d+(?:[.,:]\d+)? ?{_UNIT}(?: ?\d{{1,2}} ?(?:min\w*\.?)?)?")
_TIMED = rf"[0-9]+(?:[.,:][0-9]+)? ?(?i:{_UNIT})(?: ?[0-9]{{1,2}} ?(?i:min\w*\.?)?)?"
_ALIAS = r"(?:\s*\((?:[^\d():]{2,24}:\s*)?(?<also_called>[^()0-9][^()]*)\))?"
_BETWEEN = r"[\s:;,|/()–-]*"
_CHECKS = {word for phrase in HEADINGS["parts"]["check_minutes"] for word in phrase.split() if len(word) > 3} | {
    "checking", "check", "pruefung", "prufung", "testen", "controleren", "controllo", "controlo", "diagnose", "proof",
}  # fmt: skip


def parts_in(lines: Sequence[str]) -> LineCuts | None:
    """Return how the lines of a price book are cut; None where they are none, or do not all stand alike."""
    filled = [line.rstrip() for line in lines if re.search(r"[^\W_]", line)]
    cost = max(_COSTS, key=lambda one: sum(fits(one, line) is not None for line in filled))
    listed = [line for line in filled if fits(cost, line) and not DATE.search(line)]
    if len(listed) < _FEWEST or len(listed) < _ENOUGH * len(filled):
        return None
    pieces = _pieces(listed, cost)
    tail = "".join(f"(?:{_BETWEEN}{piece})?" for piece in pieces)
    first = next((at for at, piece in enumerate(pieces) if "<part_cost>" in piece), 0)
    head = rf"^\s*(?:{BULLET})?(?<part>[^\W\d_][^:;|]*?){_ALIAS}[\s:;,|.–-]+"
    if first == 0:
        tail = pieces[0] + "".join(f"(?:{_BETWEEN}{piece})?" for piece in pieces[1:])
    cut = f"{head}{tail}[\\s).,;]*$"
    return LineCuts(cut) if all(fits(cut, line) for line in listed) and "<part_cost" in cut else None


def _pieces(listed: Sequence[str], cost: str) -> list[str]:
    """Return the patterns of what stands behind the names of parts, in the order of the line that tells most."""
    told: dict[str, list[str]] = {}
    order: list[str] = []
    for line in listed:
        found = _told(line, cost)
        order = [name for name, _, _ in found] if len(found) > len(order) else order
        for name, words, behind in found:
            told.setdefault(name, []).append(words)
            told.setdefault(f"{name} behind", []).append(behind)
    return [_piece(name, told[name], told[f"{name} behind"], cost) for name in order]


def _told(line: str, cost: str) -> list[tuple[str, str, str]]:
    """Return what a line tells in its order, each with the words in front of it and behind it."""
    price = fits(cost, line)
    assert price is not None
    spans = [("part_cost", *price.span())]
    found = [
        (match.start(), match.end())
        for match in _TIME.finditer(line, 1)
        if not price.start() <= match.start() < price.end()
    ]
    for start, end in found[:2]:
        before, behind = re.split(r"[,;|()/]|\d", line[:start])[-1], re.split(r"[,;|()/]", line[end:])[0]
        checks = bool(_CHECKS & {*folded(f"{before} {behind}").split()})
        spans.append(("check_minutes" if checks else "labour_minutes", start, end))
    made = []
    for at, (name, start, end) in enumerate(sorted(spans, key=lambda span: span[1])):
        before, behind = re.split(r"[,;|()/–]|\d|\s-\s", line[:start])[-1], re.split(r"[,;|()/–]|\s-\s", line[end:])[0]
        made.append(
            (name, before.strip(" :") if at else "", behind.strip(" :.") if not re.search(r"\d", behind) else "")
        )
    return made if len({name for name, *_ in made}) == len(made) else made[:1]


def _piece(name: str, before: Sequence[str], behind: Sequence[str], cost: str) -> str:
    value = cost if name == "part_cost" else rf"(?<{name}>{_TIMED})"
    return f"{_words(before)}{value}{_words(behind, end=True)}"


def _words(found: Sequence[str], *, end: bool = False) -> str:
    """Return the pattern of words beside a value, where there are some."""
    words = sorted({*filter(None, found)}, key=lambda word: (-len(word), word))
    if not words:
        return ""
    ways = "|".join(re.sub(r"\s+", r"\\s+", escaped(word)) for word in words[:20])
    return rf"(?:\s*(?:{ways}))?" if end else rf"(?:(?:{ways})[\s:.]*)?"
