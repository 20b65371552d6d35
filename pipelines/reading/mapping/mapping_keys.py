"""Every line that a mapping file may hold, and what each must say.

A line that does not mean what it should is named with file, line and key, what
was found and what was wanted; nothing is guessed in its place.
"""

from __future__ import annotations

import difflib
import re
from datetime import UTC, datetime
from typing import Annotated, Any, Literal, get_args
from zoneinfo import available_timezones

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.patterns import why_bad
from pipelines.reading.source import Encoding
from pipelines.toml_file import unwanted, wanted

COLUMNS = tuple(column.name for column in LAYOUTS["scans"].columns)
Format = Literal["table", "xlsx", "json", "jsonl", "text", "pdf"]
Blank = Literal["no codes", "not read"]
_EXAMPLE = datetime(2026, 11, 23, 9, 15, tzinfo=UTC)


def _date_format(form: str) -> str:
    """Hold a form to reading back the day it writes."""
    try:
        read = datetime.strptime(_EXAMPLE.strftime(form), form)
    except (ValueError, re.error):
        raise unwanted() from None
    if read.date() != _EXAMPLE.date():
        raise unwanted()
    return form


def _zone(name: str) -> str:
    if name not in available_timezones():
        raise unwanted()
    return name


def _column(name: str) -> str:
    if name not in COLUMNS:
        near = difflib.get_close_matches(name, COLUMNS, n=1)
        hint = f"did you mean {near[0]}?" if near else f"the columns are {', '.join(COLUMNS)}"
        raise ValueError(f"{name} is no column of scans; {hint}")
    return name


def _pattern(pattern: str) -> str:
    why = why_bad(pattern)
    if why:
        raise ValueError(f"the pattern {pattern!r} cannot be used: {why}")
    return pattern


def _field(words: str, missing: str = "") -> Any:
    return Field(json_schema_extra=wanted(words, missing))


def _choice(kind: Any, missing: str = "") -> Any:
    return _field("one of " + ", ".join(map(repr, get_args(kind))), missing)


TextOrBlank = Annotated[str, Field(pattern=r"\A[^\x00]*\z")]
Text = Annotated[str, Field(pattern=r"\A[^\x00]+\z")]
Texts = Annotated[list[Text], Field(min_length=1)]
FileName = Annotated[str, Field(pattern=r"\A[^\x00/\\]+\z")]
FileNames = Annotated[list[FileName], Field(min_length=1)]
DateFormats = Annotated[list[Annotated[Text, AfterValidator(_date_format)]], Field(min_length=1)]
Pattern = Annotated[Text, AfterValidator(_pattern)]
Patterns = Annotated[list[Pattern], Field(min_length=1)]
Column = Annotated[str, AfterValidator(_column)]
_A_TEXT, _A_LIST, _A_PATTERN = "a text", 'a list of texts like ["a", "b"]', "a regular expression"
_IN_TEXT = "every mapping of a printed text has it"


class _Keys(BaseModel):
    model_config = ConfigDict(strict=True, frozen=True, extra="forbid")


class CodeKeys(_Keys):
    """The table ``codes``: what a cell for codes may hold."""

    separator: Annotated[Text | None, _field(_A_TEXT)] = None
    no_codes: Annotated[Texts | None, _field(_A_LIST)] = None
    silent: Annotated[Texts | None, _field(_A_LIST)] = None
    blank: Annotated[Blank | None, _choice(Blank)] = None


class TextKeys(_Keys):
    """The table ``text``: the patterns of a printed text."""

    scan: Annotated[Pattern | Patterns, _field("a regular expression, or a list of them", _IN_TEXT)]
    module: Annotated[Pattern | None, _field(_A_PATTERN)] = None
    code: Annotated[Pattern, _field(_A_PATTERN, _IN_TEXT)]
    no_codes: Annotated[Pattern | None, _field(_A_PATTERN)] = None
    silent: Annotated[Pattern | None, _field(_A_PATTERN)] = None
    bare_module: Annotated[Blank, _choice(Blank)] = "not read"


class MappingKeys(_Keys):
    """A mapping file as it is written; a key that is not there is None or an empty table."""

    serves: Annotated[
        FileNames,
        _field('a list of file name patterns like ["*.txt"], without folders', "every mapping has it"),
    ]
    signature: Annotated[Text | None, _field(_A_TEXT)] = None
    format: Annotated[Format, _choice(Format, "every mapping has it")]
    encoding: Annotated[Encoding, _choice(Encoding)] = "utf-8"
    delimiter: Annotated[
        str,
        Field(pattern=r'\A([^\w"\n\r\x00]|_)\z'),
        _field("one character that is no letter, digit, quotation mark or line end"),
    ] = ","
    header_row: Annotated[int, Field(ge=1, le=1000), _field("a whole number from 1 to 1000")] = 1
    decimal: Annotated[Literal[".", ","], _choice(Literal[".", ","])] = "."
    thousands: Annotated[Literal[".", ",", " ", "'"] | None, _choice(Literal[".", ",", " ", "'"])] = None
    date_formats: Annotated[
        DateFormats | None, _field('a list of forms like ["%d.%m.%Y %H:%M"] that name year, month and day')
    ] = None
    time_zone: Annotated[
        Annotated[str, AfterValidator(_zone)] | None, _field("a time zone's name like Europe/Berlin")
    ] = None
    sheet: Annotated[Text | None, _field(_A_TEXT)] = None
    columns: Annotated[dict[Column, Text | Texts], _field("a text, or a list of texts that are joined by a space")] = {}
    constants: Annotated[dict[Column, Text], _field(_A_TEXT)] = {}
    values: Annotated[dict[Column, dict[str, TextOrBlank]], _field(_A_TEXT)] = {}
    pick: Annotated[dict[Column, Pattern], _field(_A_PATTERN)] = {}
    codes: CodeKeys = CodeKeys()
    wide: Annotated[dict[str, Text], _field(_A_TEXT)] = {}
    text: TextKeys | None = None


_NAMES_BELOW = {"columns": ".*", "constants": ".*", "values": ".*.*", "pick": ".*", "wide": ".*"}
FIELDS = {
    name + _NAMES_BELOW.get(name, ""): field
    for name, field in MappingKeys.model_fields.items()
    if name not in ("codes", "text")
}
FIELDS |= {f"codes.{name}": field for name, field in CodeKeys.model_fields.items()}
FIELDS |= {f"text.{name}": field for name, field in TextKeys.model_fields.items()}
"""Every key that may be set, with ``*`` for a name that the dealer chooses."""
HINT = "the first words of keys are " + ", ".join(sorted(MappingKeys.model_fields))
