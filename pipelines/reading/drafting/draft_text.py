"""Draft the patterns of a printed text from its lines: a beginning, for the user to mend.

The first line with a date is taken for a scan's heading, a line that holds nothing
but a module's name for a module's heading.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.draft_columns import NOTHING, SILENT
from pipelines.reading.drafting.guessing import DATE_FORMATS, NAMES, date_format_of

_CODE = re.compile(r"\b[PCBU][0-3][0-9A-Fa-f]{3}\b")
_DATE = re.compile(
    r"\d{1,4}[./-]\d{1,2}[./-]\d{2,4}(?:[T ]\d{1,2}:\d\d(?::\d\d)?(?: [AP]M)?)?"
    r"|\d{1,2} [A-Za-z]{3} \d{4}(?: \d\d:\d\d)?"
)
_VEHICLE = re.compile(
    rf"\b(?:{'|'.join(NAMES['vehicle'])})(?: (?:number|no\.?))?\b[ :#.]*([\w-]*\d[\w-]*)", re.IGNORECASE
)
_ODOMETER = re.compile(r"(\d[\d.,]*) ?(km|mi)\b")


def draft_text(draft: Draft, lines: Sequence[str], is_module: Callable[[str], bool]) -> None:
    """Draft the patterns of a printed text.

    Args:
        draft: Gets the lines.
        lines: The beginning of the text.
        is_module: Whether the vocabulary knows a text as a module.
    """
    _draft_date(draft, lines)
    for line in _scan_patterns(lines, draft.reasons):
        draft.line(line, "text")
    heading = next((line for line in lines if _module_name(line, is_module)), None)
    if heading is None:
        draft.line("# module = '^(?<module>...)$'  # no line was found that holds only a module's name", "text")
    else:
        before, _, after = heading.strip().partition(_module_name(heading, is_module))
        draft.line(f"module = '^\\s*{_plain(before)}(?<module>[^\\[\\]:|]+?){_plain(after)}\\s*$'", "text")
        draft.reasons.append(f"module: the line {heading.strip()!r} holds a module's name and nothing else")
    draft.line("code = '^.*?\\b(?<code>[PCBU][0-3][0-9A-F]{3}(?:-[0-9A-F]{2})?)\\b[\\s:|-]*(?<text>.*)$'", "text")
    coded = next((line for line in lines if _CODE.search(line)), "")
    draft.reasons.append(f"code: what looks like a code, and all behind it as its text, as in {coded.strip()!r}")
    for key, pattern in (("no_codes", NOTHING), ("silent", SILENT)):
        said = next((match for line in lines if not _CODE.search(line) and (match := pattern.search(line))), None)
        if said is None:
            draft.line(f"# {key} = '^...$'  # no such line was found", "text")
        else:
            draft.line(f"{key} = '(?i){_plain(said[0])}'", "text")
            draft.reasons.append(f"{key}: the line {said.string.strip()!r}")


def _draft_date(draft: Draft, lines: Sequence[str]) -> None:
    dates = [match[0] for line in lines for match in [_DATE.search(line)] if match]
    form, other = date_format_of(dates)
    if form is None:
        draft.line(f'# date_formats = ["{DATE_FORMATS[0]}"]  # no date was found')
        return
    both = f", and as well {other!r}: check which is meant" if other else ""
    timeless = "" if re.search("%[HI]", form) else "; no time of day stands behind them, or apart from them"
    draft.put("date_formats", [form], f"the dates have this form{both}{timeless}")


def _scan_patterns(lines: Sequence[str], reasons: list[str]) -> list[str]:
    """Draft the patterns of a scan's heading: the first line that tells the car or the date begins it."""
    patterns: list[str] = []
    wanted = {"vehicle": _VEHICLE, "scanned_at": _DATE, "odometer": _ODOMETER}
    for line in lines:
        told = {name: match for name, pattern in wanted.items() if (match := pattern.search(line))}
        if not told or (_CODE.search(line) and not patterns):
            continue
        patterns.append(_heading(line, told))
        reasons.append(f"scan: the line {line.strip()!r} tells {' and '.join(told)}")
        wanted = {name: pattern for name, pattern in wanted.items() if name not in told}
        if not wanted:
            break
    if not patterns:
        return ["# scan = '^... (?<vehicle>\\S+) ... (?<scanned_at>...)$'  # no line with a date was found"]
    return ["scan = [", *(f"    '{pattern}'," for pattern in patterns), "]"]


def _heading(line: str, told: dict[str, re.Match[str]]) -> str:
    """Return a pattern for one line: its words as they stand, its values as groups, other numbers as any number."""
    spans: list[tuple[int, int, str]] = []
    for name, match in told.items():
        if name == "odometer":
            spans += [(*match.span(1), "(?<odometer>[\\d.,]+)"), (*match.span(2), "(?<odometer_unit>km|mi)")]
        else:
            group = 1 if name == "vehicle" else 0
            value = "\\S+" if name == "vehicle" else _plain_digits(match[0])
            spans.append((*match.span(group), f"(?<{name}>{value})"))
    made, at = "^", 0
    for start, end, pattern in sorted(spans):
        if start < at:
            continue
        made += _plain(line[at:start]) + pattern
        at = end
    return made + _plain(line[at:].rstrip()) + "$"


def _plain(text: str) -> str:
    """Return a pattern for a text: any number for its numbers, any space for its spaces, the rest as it stands."""
    escaped = re.sub(r"[\\.^$|?*+()\[\]{}]", lambda mark: "\\" + mark[0], text)
    return re.sub(r"\s+", lambda _: "\\s+", re.sub(r"\d+", lambda _: "\\d+", escaped)).replace("'", ".")


def _plain_digits(text: str) -> str:
    return _plain(re.sub("[A-Za-z]+", "\0", text)).replace("\0", "\\w+")


def _module_name(line: str, is_module: Callable[[str], bool]) -> str:
    """Return the module that a line names when it holds nothing else, or an empty text."""
    name = line.strip().strip("[]()<>=-*#:| ")
    return name if name and len(name) < 60 and is_module(name) else ""
