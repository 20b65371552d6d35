"""Every line that a mapping file may hold, and what each must say.

A line that does not mean what it should is named with file, line and key, what
was found and what was wanted; nothing is guessed in its place.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import available_timezones

from pipelines.errors import SettingsError
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.patterns import why_bad
from pipelines.reading.source import ENCODINGS

FORMATS = ("table", "xlsx", "json", "jsonl", "text", "pdf")
COLUMNS = tuple(column.name for column in LAYOUTS["scans"].columns)
_EXAMPLE = datetime(2026, 11, 23, 9, 15, tzinfo=UTC)


@dataclass(frozen=True)
class Rule:
    """What a value must be: in words, and as a test."""

    wanted: str
    holds: Callable[[object], bool]


def _is_text(value: object) -> bool:
    return isinstance(value, str) and bool(value) and "\0" not in value


def _is_texts(value: object) -> bool:
    return isinstance(value, list) and bool(value) and all(_is_text(item) for item in value)


def _is_date_format(text: str) -> bool:
    """Say whether a form reads back the day it writes."""
    try:
        read = datetime.strptime(_EXAMPLE.strftime(text), text)
    except (ValueError, re.error):
        return False
    return read.date() == _EXAMPLE.date()


def _is_zone(value: object) -> bool:
    return isinstance(value, str) and value in available_timezones()


def _serves(value: object) -> bool:
    return _is_texts(value) and not any(re.search(r"[/\\]", item) for item in value)  # type: ignore[attr-defined]


def _one_of(*names: str) -> Rule:
    return Rule("one of " + ", ".join(repr(name) for name in names), lambda value: value in names)


_TEXT = Rule("a text", _is_text)
_TEXT_OR_BLANK = Rule("a text", lambda value: isinstance(value, str) and "\0" not in value)
_TEXTS = Rule('a list of texts like ["a", "b"]', _is_texts)
_TEXT_OR_TEXTS = Rule("a text, or a list of texts that are joined by a space", lambda v: _is_text(v) or _is_texts(v))
_PATTERN = Rule("a regular expression", _is_text)
_PATTERNS = Rule("a regular expression, or a list of them", lambda value: _is_text(value) or _is_texts(value))

RULES: dict[str, Rule] = {
    "serves": Rule('a list of file name patterns like ["*.txt"], without folders', _serves),
    "signature": _TEXT,
    "format": _one_of(*FORMATS),
    "encoding": _one_of(*ENCODINGS),
    "delimiter": Rule(
        "one character that is no letter, digit, quotation mark or line end",
        lambda value: isinstance(value, str) and re.fullmatch(r"[^\w\"\n\r\0]|_", value) is not None,
    ),
    "header_row": Rule("a whole number from 1 to 1000", lambda value: type(value) is int and 1 <= value <= 1000),
    "decimal": _one_of(".", ","),
    "thousands": _one_of(".", ",", " ", "'"),
    "date_formats": Rule(
        'a list of forms like ["%d.%m.%Y %H:%M"] that name year, month and day',
        lambda value: isinstance(value, list) and _is_texts(value) and all(map(_is_date_format, value)),
    ),
    "time_zone": Rule("a time zone's name like Europe/Berlin", _is_zone),
    "sheet": _TEXT,
    "columns.*": _TEXT_OR_TEXTS,
    "constants.*": _TEXT,
    "values.*.*": _TEXT_OR_BLANK,
    "pick.*": _PATTERN,
    "codes.separator": _TEXT,
    "codes.no_codes": _TEXTS,
    "codes.silent": _TEXTS,
    "codes.blank": _one_of("no codes", "not read"),
    "wide.*": _TEXT,
    "text.scan": _PATTERNS,
    "text.module": _PATTERN,
    "text.code": _PATTERN,
    "text.no_codes": _PATTERN,
    "text.silent": _PATTERN,
    "text.bare_module": _one_of("no codes", "not read"),
}
_TABLES = {key.partition(".")[0] for key in RULES if "." in key}
_LAYOUT_KEYED = ("columns", "constants", "values", "pick")


class Given:
    """What a mapping file says, each line held to its rule.

    Attributes:
        path: The file.
        table: Its content; every key is known and every value is what it should be.
    """

    def __init__(self, path: Path, shown: str) -> None:
        """Read and check the file; ``shown`` is its name in messages."""
        self.path, self.shown = path, shown
        try:
            self._text = path.read_text(encoding="utf-8-sig")
            self.table: dict[str, Any] = tomllib.loads(self._text)
        except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
            raise SettingsError(f"{shown}: expected TOML text in UTF-8; {error}. Nothing was run.") from error
        for key, value in _leaves(self.table):
            self._check(key, value)

    def fail(self, key: tuple[str, ...], found: str) -> SettingsError:
        """Return the error that names a key's line."""
        return SettingsError(f"{self.shown}:{line_of(self._text, key)}: {'.'.join(key)}: {found}. Nothing was run.")

    def _check(self, key: tuple[str, ...], value: object) -> None:
        rule = RULES.get(".".join(key)) or RULES.get(".".join((key[0], *("*" for _ in key[1:]))))
        if rule is None:
            near = difflib.get_close_matches(".".join(key), RULES, n=1)
            hint = f"; did you mean {near[0]}?" if near else f"; the first words of keys are {', '.join(_tops())}"
            raise self.fail(key, f"is no key of a mapping{hint}")
        if not rule.holds(value):
            raise self.fail(key, f"expected {rule.wanted}, found {value!r}")
        if key[0] in _LAYOUT_KEYED and key[1] not in COLUMNS:
            near = difflib.get_close_matches(key[1], COLUMNS, n=1)
            hint = f"did you mean {near[0]}?" if near else f"the columns are {', '.join(COLUMNS)}"
            raise self.fail(key, f"{key[1]} is no column of scans; {hint}")
        if rule in (_PATTERN, _PATTERNS):
            for pattern in [value] if isinstance(value, str) else value:  # type: ignore[attr-defined]
                why = why_bad(pattern)
                if why:
                    raise self.fail(key, f"the pattern {pattern!r} cannot be used: {why}")


def _tops() -> list[str]:
    return sorted({key.partition(".")[0] for key in RULES})


def _leaves(table: Mapping[str, object], above: tuple[str, ...] = ()) -> list[tuple[tuple[str, ...], object]]:
    """Return every key that holds no further keys, or that should hold none."""
    found: list[tuple[tuple[str, ...], object]] = []
    for name, value in table.items():
        key = (*above, name)
        if isinstance(value, dict) and key[0] in _TABLES and len(key) < 3:
            found += _leaves(value, key)
        else:
            found.append((key, value))
    return found


def line_of(text: str, key: tuple[str, ...]) -> int:
    """Return the line of a TOML text that sets a key, or the nearest line above it that leads there."""
    best = 1
    table: tuple[str, ...] = ()
    for number, line in enumerate(text.splitlines(), 1):
        head = re.match(r"\s*\[([^\]]+)\]", line)
        if head:
            table = _names(head[1])
            here = table
        elif named := re.match(r"""\s*((?:"[^"]*"|'[^']*'|[\w-]+)(?:\s*\.\s*(?:"[^"]*"|'[^']*'|[\w-]+))*)\s*=""", line):
            here = (*table, *_names(named[1]))
        else:
            continue
        if here == key:
            return number
        if here == key[: len(here)]:
            best = number
    return best


def _names(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip("\"'") for part in re.findall(r"""\s*("[^"]*"|'[^']*'|[\w-]+)\s*""", dotted))
