"""A log whose every line begins with a moment: what stands in front of the units and codes is one pattern for all.

The lines are drafted without it, but for those that tell a car, and the patterns get it in front again.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass

from pipelines.reading.account import codes_in
from pipelines.reading.drafting.code_lines import fits
from pipelines.reading.drafting.draft import Draft, literal
from pipelines.reading.drafting.guessing import says_nothing
from pipelines.reading.drafting.scan_lines import DATE, any_digits, fields, is_timed, with_bare_car

_FEWEST, _ENOUGH = 3, 0.95
_LEVEL = r"(?:[\[(<]?(?:INFO|WARN(?:ING)?|ERROR|DEBUG|TRACE|NOTICE|LOG|DTC|FAULT|CODE|DATA)[\])>]?[\s:|–-]+)"
_FRACTION = r"(?:[.,]\d{1,6})?"
_ID = r"(?:(?:session|sess|scan|id|job|run)?\s?[\[(#=]+\s?[\w-]*\d[\w-]*\s?[\])]?[\s:|–-]+)"
_BETWEEN = r"[\s:,;|–-]*"


@dataclass(frozen=True)
class PlainLog:
    """A log's lines without what stands in front of each, but for those that tell a car, and the pattern of that.

    Attributes:
        lines: The lines.
        prefix: The pattern.
        mixed: A line of one session among those of another; blank where there is none.
    """

    lines: list[str]
    prefix: str
    mixed: str


def plain_log(lines: Sequence[str]) -> PlainLog | None:
    """Return a log's lines as they are drafted; None where the lines are none, or each tells its car by itself."""
    told = [match for line in lines if (match := _MOMENT.match(line)) and is_timed(match[2])]
    if len(lines) < _FEWEST or len(told) < _ENOUGH * len(lines):
        return None
    moments = "|".join(sorted({any_digits(match[2]) for match in told}, key=lambda one: (-len(one), one)))
    lead = rf"\s*[\[(<]?(?:{moments}){_FRACTION}[\])>]?{_BETWEEN}{_LEVEL}?"
    marked = all(re.match(lead + _ID, line) for line in lines)
    prefix = lead + (_ID if marked else "")
    made, session, mixed = list[str](), "", ""
    for line in lines:
        match = re.match(prefix, line)
        rest = line[match.end() :] if match else line
        tells_car = _tells_car(rest)
        if tells_car or match is None or not (codes_in([rest]) or says_nothing(rest)):
            made.append(line)
            session = _id(line, lead) if tells_car else session
            continue
        if marked and _id(line, lead) != session:
            mixed = mixed or line
        made.append(rest)
    short = [line for line, whole in zip(made, lines, strict=True) if line != whole]
    return PlainLog(made, prefix, mixed) if short and any(map(_tells_car, made)) else None


_MOMENT = re.compile(rf"(\s*[\[(<]?)({DATE.pattern})")


def _tells_car(text: str) -> bool:
    found = with_bare_car(text, list(fields(text)))
    return not codes_in([text]) and any(field.column in ("vehicle", "vin") for field in found)


def _id(line: str, lead: str) -> str:
    match = re.match(rf"{lead}({_ID})", line)
    return " ".join(re.findall(r"\w+", match[1])) if match else ""


def put_prefix(draft: Draft, log: PlainLog) -> None:
    """Put what stands in front of the lines into the patterns of all that tell no car; ask about mixed sessions."""
    text = tomllib.loads("\n".join(draft.tables.get("text", ())))
    made = [line for line in draft.tables.get("text", ()) if line.startswith("#")]
    for key, value in text.items():
        patterns = [value] if isinstance(value, str) else value
        if key != "scan":
            patterns = [_with(pattern, log.prefix) for pattern in patterns]
        shown = ", ".join(map(literal, patterns))
        made.append(f"{key} = {shown if isinstance(value, str) else f'[{shown}]'}")
    draft.tables["text"] = made
    draft.reasons.append("text: every line begins with a moment, and what stands there is passed over")
    if log.mixed:
        asks = f"{log.mixed.strip()[:100]!r} is of another session than the line with a car above it"
        why = "its codes would count for that car; sort the lines by their session, and draft again"
        draft.ask("text.sessions", asks, None, why)


def _with(pattern: str, prefix: str) -> str:
    bare = pattern.removeprefix("^")
    return f"^{prefix}{bare}" if bare != pattern and fits(f"^{prefix}", "") is None else pattern
