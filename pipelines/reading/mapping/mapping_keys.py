"""Every line that a mapping file may hold, and what each must say.

A line that does not mean what it should is named with file, line and key, what
was found and what was wanted; nothing is guessed in its place.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Annotated, Any, Literal, get_args
from zoneinfo import available_timezones

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from pipelines.reading.mapping.dates import COUNTED
from pipelines.reading.mapping.patterns import why_bad
from pipelines.reading.mapping.reshaping import Header
from pipelines.reading.source import Encoding
from pipelines.toml_file import unwanted, wanted

Format = Literal["table", "xlsx", "html", "fixed", "pairs", "records", "lines", "json", "jsonl", "xml", "text", "pdf"]
CodeForm = Literal["as written", "three bytes"]
Labour = Literal["minutes", "hours", "money", "units", "written"]
OtherWork = Literal["replace", "repair", "clean", "adjust", "inspect", "left out"]
Table = Literal["scans", "stock", "repairs", "parts", "background"]
Hidden = Literal["read", "left out"]
Blank = Literal["no codes", "not read"]
Erases = Literal["each job"]
CodeParts = Literal["a code each", "one code"]
_EXAMPLE = datetime(2026, 11, 23, 9, 15, tzinfo=UTC)


def _date_format(form: str) -> str:
    """Hold a form to reading back the day it writes."""
    if form in COUNTED:
        return form
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


def _pattern(pattern: str) -> str:
    why = why_bad(pattern)
    if why:
        raise ValueError(f"the pattern {pattern!r} cannot be used: {why}")
    return pattern


def _field(words: str, doc: str, example: str, missing: str = "") -> Any:
    return Field(description=doc, examples=[example], json_schema_extra=wanted(words, missing))


def _choice(kind: Any, doc: str, example: str, missing: str = "") -> Any:
    return _field("one of " + ", ".join(map(repr, get_args(kind))), doc, example, missing)


TextOrBlank = Annotated[str, Field(pattern=r"\A[^\x00]*\z")]
Text = Annotated[str, Field(pattern=r"\A[^\x00]+\z")]
Texts = Annotated[list[Text], Field(min_length=1)]
FileName = Annotated[str, Field(pattern=r"\A[^\x00/\\]+\z")]
FileNames = Annotated[list[FileName], Field(min_length=1)]
DateFormats = Annotated[list[Annotated[Text, AfterValidator(_date_format)]], Field(min_length=1)]
Pattern = Annotated[Text, AfterValidator(_pattern)]
Patterns = Annotated[list[Pattern], Field(min_length=1)]
Column = str
_A_TEXT, _A_LIST, _A_PATTERN = "a text", 'a list of texts like ["a", "b"]', "a regular expression"
_IN_TEXT, _EVERY = "every mapping of a printed text has it", "every mapping has it"


class _Keys(BaseModel):
    model_config = ConfigDict(strict=True, frozen=True, extra="forbid")


class CodeKeys(_Keys):
    """What a cell for codes may hold, in the table ``codes``."""

    separator: Annotated[Text | None, _field(_A_TEXT, "what stands between several codes of one cell", '", "')] = None
    no_codes: Annotated[
        Texts | None, _field(_A_LIST, "words that say the module was read and stored no code", '["none", "ok"]')
    ] = None
    silent: Annotated[
        Texts | None,
        _field(
            _A_LIST,
            "words that say the module did not answer; null is one where JSON has it in place of a list of codes",
            '["no answer"]',
        ),
    ] = None
    not_read: Annotated[
        Texts | None,
        _field(_A_LIST, "words that say the module was not read: nothing is known of it", '["skipped"]'),
    ] = None
    blank: Annotated[
        Blank | None,
        _choice(Blank, "what an empty cell says of the module; with a column a module: not read", '"no codes"'),
    ] = None
    units_between: Annotated[
        Text | None,
        _field(_A_TEXT, "what stands between several units of one cell, each with its codes", '" | "'),
    ] = None
    unit: Annotated[
        Pattern | None,
        _field(
            _A_PATTERN,
            "one unit of such a cell, with the groups module and code; its code is what a cell of codes may hold",
            r"'^(?<module>[^:]+):\s*(?<code>.*)$'",
        ),
    ] = None
    each: Annotated[
        Pattern | None,
        _field(
            _A_PATTERN,
            "one code of a cell that holds several, again and again; other named groups go with that code, and a "
            "module counts for the codes behind it too. Between them only signs and words like and may stand",
            r"'(?:(?<module>\w+) ?: ?)?(?<code>[PCBU]\w{4})'",
        ),
    ] = None
    columns: Annotated[CodeParts, _choice(CodeParts, "what several columns under columns.code are", '"one code"')] = (
        "a code each"
    )
    form: Annotated[
        CodeForm,
        _choice(
            CodeForm,
            "what codes of six hex digits are: with three bytes the first two are a code of five characters and the "
            "third its failure type, so 030108 is P0301-08",
            '"three bytes"',
        ),
    ] = "as written"
    modules_between: Annotated[
        Text | None,
        _field(_A_TEXT, "what stands between several modules of one cell, of a row without a code", '", "'),
    ] = None
    clean: Annotated[
        Text | None,
        _field(
            _A_TEXT,
            "the file's column that lists modules that were read; those without a code in their scan stored none",
            '"Read and clean"',
        ),
    ] = None
    silent_modules: Annotated[
        Text | None,
        _field(_A_TEXT, "the file's column that lists modules that did not answer", '"No answer"'),
    ] = None
    repeated: Annotated[
        Text | None,
        _field(_A_TEXT, "the file's column that repeats, shorter, the codes of columns.code", '"Short code"'),
    ] = None
    whole_car: Annotated[
        Text | None,
        _field(
            _A_TEXT,
            "what stands as the module of a row that names neither module nor code: the car was read and holds none. "
            "It says nothing of any one module",
            '"whole car"',
        ),
    ] = None


class FlagKeys(_Keys):
    """Columns that a cross or a yes stands in where the state in their heading holds, in the table ``flags``."""

    columns: Annotated[
        dict[str, Text],
        _field(_A_TEXT, "the file's column to the state of a code that has a yes in it", '"active"'),
    ] = {}
    yes: Annotated[Texts | None, _field(_A_LIST, "the words in them that mean yes", '["x", "yes"]')] = None
    no: Annotated[Texts | None, _field(_A_LIST, "those that mean no, as an empty cell does", '["-", "no"]')] = None
    otherwise: Annotated[
        Text | None, _field(_A_TEXT, "the state of a code with a yes in none of them; without it blank", '"history"')
    ] = None


class JoinKeys(_Keys):
    """Another sheet whose cells stand behind those of each row, in the table ``join``."""

    sheet: Annotated[Text | None, _field(_A_TEXT, "the name of the other sheet", '"Cars"')] = None
    header_row: Annotated[
        int, Field(ge=1, le=1000), _field("a whole number from 1 to 1000", "the row with its columns' names", "1")
    ] = 1
    keys: Annotated[
        dict[str, Text],
        _field(_A_TEXT, "this sheet's column that names a row of the other, to that column's name there", '"No."'),
    ] = {}


class LineKeys(_Keys):
    """How the lines of a log are cut into cells, in the table ``lines``; each line is a row, its groups are columns."""

    cut: Annotated[
        Pattern | None,
        _field(
            _A_PATTERN,
            "with format lines: what cuts a line; its named groups are the file's columns",
            r"'^(?<day>\S+) (?<car>\S+) (?<codes>.*)$'",
        ),
    ] = None
    between: Annotated[
        Text | None, _field(_A_TEXT, "what parts the group named rest of a line into a row each", '"; "')
    ] = None
    piece: Annotated[
        Pattern | None, _field(_A_PATTERN, "what cuts each of those pieces", r"'^(?<module>\w+) (?<codes>.*)$'")
    ] = None


class TextKeys(_Keys):
    """The patterns of a printed text, in the table ``text``; named groups are columns of the table."""

    scan: Annotated[
        Pattern | Patterns,
        _field(
            "a regular expression, or a list of them",
            "the first begins a scan; the others add to what is known of it",
            r"'^Car (?<vehicle>\S+) read (?<scanned_at>\S+ \S+)'",
            _IN_TEXT,
        ),
    ]
    module: Annotated[Pattern | None, _field(_A_PATTERN, "a module's heading", r"'^\[\d+\] (?<module>.+)$'")] = None
    code: Annotated[
        Pattern, _field(_A_PATTERN, "a line with a code", r"'^ +(?<code>[PCBU]\S+) (?<text>.*)$'", _IN_TEXT)
    ]
    no_codes: Annotated[
        Pattern | Patterns | None,
        _field(
            "a regular expression, or a list of them",
            "a line that says the module stored no code",
            "'^ +nothing stored$'",
        ),
    ] = None
    silent: Annotated[
        Pattern | None, _field(_A_PATTERN, "a line that says the module did not answer", "'^ +did not answer$'")
    ] = None
    below: Annotated[
        Pattern | Patterns | None,
        _field(
            "a regular expression, or a list of them",
            "a line below a code that adds to it: its status, its words",
            r"'^ +Status: (?<status>.+)$'",
        ),
    ] = None
    bare_module: Annotated[
        Blank, _choice(Blank, "what a module's heading with no such line below it says", '"not read"')
    ] = "not read"


class NameKeys(_Keys):
    """What names tell, in the table ``names``; named groups are columns of the table."""

    file: Annotated[
        Pattern | None,
        _field(
            _A_PATTERN,
            "what the file's name tells of every row in it, of a zip the name of each file in it",
            r"'^(?<vehicle>K[0-9]+)_'",
        ),
    ] = None
    sheet: Annotated[
        Pattern | None,
        _field(_A_PATTERN, "what a sheet's name tells of every row in it", r"'^(?<vehicle>.+)$'"),
    ] = None


class ErasedKeys(_Keys):
    """How a list of repairs says that codes were erased at a visit, in the table ``erased``."""

    column: Annotated[
        Text | None, _field(_A_TEXT, "the column of a list of repairs that says whether codes were erased", '"Erased"')
    ] = None
    yes: Annotated[Texts | None, _field(_A_LIST, "the words in it that say that they were", '["yes", "y"]')] = None
    after: Annotated[
        Erases | None,
        _choice(
            Erases,
            "after which jobs codes were erased although no row says so; a job with such a row has no second one",
            '"each job"',
        ),
    ] = None


class MappingKeys(_Keys):
    """A mapping file as it is written; a key that is not there is None or an empty table."""

    serves: Annotated[
        FileNames,
        _field(
            'a list of file name patterns like ["*.txt"], without folders',
            "which files it reads, by their names",
            '["*.txt"]',
            _EVERY,
        ),
    ]
    table: Annotated[Table, _choice(Table, "which table of the inbox its rows belong to", '"scans"')] = "scans"
    signature: Annotated[
        Text | None, _field(_A_TEXT, "a text that must stand near the beginning of the file", '"WORKSHOP SLIP"')
    ] = None
    format: Annotated[
        Format,
        _choice(Format, "what the file is; a zip is read by the format of the files in it", '"table"', _EVERY),
    ]
    encoding: Annotated[Encoding, _choice(Encoding, "how its text is encoded", '"cp1252"')] = "utf-8"
    delimiter: Annotated[
        str,
        Field(pattern=r'\A([^\w"\n\r\x00]|_)\z'),
        _field(
            "one character that is no letter, digit, quotation mark or line end", "what stands between cells", '";"'
        ),
    ] = ","
    header_row: Annotated[
        int,
        Field(ge=1, le=1000),
        _field("a whole number from 1 to 1000", "the row with the columns' names, the first row being 1", "3"),
    ] = 1
    header: Annotated[
        Header,
        _choice(
            Header,
            "how the names of columns stand: in header_row, over that row and the next, nowhere (they are column A, "
            "column B and so on), or down the first column of a table that is turned",
            '"two rows"',
        ),
    ] = "row"
    decimal: Annotated[Literal[".", ","], _choice(Literal[".", ","], "the decimal mark of numbers", '","')] = "."
    thousands: Annotated[
        Literal[".", ",", " ", "'"] | None,
        _choice(Literal[".", ",", " ", "'"], "the mark between thousands", '" "'),
    ] = None
    date_formats: Annotated[
        DateFormats | None,
        _field(
            'a list of forms like ["%d.%m.%Y %H:%M"] that name year, month and day',
            "the forms of dates, tried in order; also epoch, epoch ms and serial; without it ISO 8601",
            '["%d.%m.%Y %H:%M"]',
        ),
    ] = None
    year: Annotated[
        Annotated[int, Field(ge=1990, le=2100)] | None,
        _field("a whole number from 1990 to 2100", "the year of days that a text tells without one, like 7.2.", "2026"),
    ] = None
    time_zone: Annotated[
        Annotated[str, AfterValidator(_zone)] | None,
        _field("a time zone's name like Europe/Berlin", "what dates without an offset are local to", '"Europe/Berlin"'),
    ] = None
    sheet: Annotated[
        Text | Texts | None,
        _field(
            "a text, or a list of texts",
            'the sheet of a workbook, a list of them, or "*" for every one that has the columns; without it the first',
            '"*"',
        ),
    ] = None
    hidden: Annotated[Hidden, _choice(Hidden, "what becomes of rows that the workbook hides", '"left out"')] = "read"
    columns: Annotated[
        dict[Column, Text | Texts],
        _field(
            "a text, or a list of texts that are joined by a space",
            "column of the table to the file's column (in JSON and XML its path), or a list of them joined by a space; "
            "several for code are a code each, and as many for module, status, text or failure_type go with them one "
            "by one; so are several for part of repairs, with action, position, supplier, part_cost and "
            "labour_minutes. A list of stock may have plate too: scans and repairs may call the car by it",
            '"Fehler 1"',
        ),
    ] = {}
    constants: Annotated[
        dict[Column, Text],
        _field(
            _A_TEXT,
            "column of the table to what it holds in every row; for module also by code: ECM, for C ABS, for B BCM",
            '"km"',
        ),
    ] = {}
    values: Annotated[
        dict[Column, dict[str, TextOrBlank]],
        _field(_A_TEXT, "column of the table to: word of the file, to what it means", '"confirmed"'),
    ] = {}
    states: Annotated[
        dict[str, Text],
        _field(
            _A_TEXT,
            "where several columns hold codes and each column's name says their state: the file's column to that state",
            '"pending"',
        ),
    ] = {}
    fill_down: Annotated[
        Texts | None,
        _field(
            _A_LIST,
            "columns of the file in which an empty cell means what stands above it",
            '["Vehicle", "Date"]',
        ),
    ] = None
    pick: Annotated[
        dict[Column, Pattern],
        _field(
            _A_PATTERN,
            "column of the table to the pattern whose first group is the cell; named groups fill the columns they name",
            r"'^(?<odometer>[\d.]+) ?(?<odometer_unit>km|mi)$'",
        ),
    ] = {}
    above: Annotated[
        Pattern | Patterns | None,
        _field(
            "a regular expression, or a list of them",
            "rows above or between those of a table, their cells joined by a space, whose named groups count for the "
            "rows below; a row that fits the first forgets what the others told",
            r"'^Car (?<vehicle>\S+)'",
        ),
    ] = None
    skip: Annotated[
        Pattern | Patterns | None,
        _field(
            "a regular expression, or a list of them",
            "rows of a table that are passed over, like sums, their cells joined by a space",
            "'^Total '",
        ),
    ] = None
    session: Annotated[
        Text | None,
        _field(
            _A_TEXT,
            "the file's column, or name in JSON lines, that numbers the scans; what one row of a scan tells of car, "
            "day and distance counts for all of its rows, and one that tells nothing else is none",
            '"session"',
        ),
    ] = None
    codes: CodeKeys = CodeKeys()
    labour: Annotated[
        Labour,
        _choice(
            Labour,
            "what the numbers for labour_minutes count; money and units of work are divided by labour_rate; written: "
            "each cell has its own unit, like 1 h 15 min",
            '"hours"',
        ),
    ] = "minutes"
    labour_rate: Annotated[
        Annotated[float, Field(gt=0, le=10_000)] | None,
        _field(
            "a number above 0",
            "what an hour of that work costs, where labour is money; how many units it is, where labour is units",
            "45.0",
        ),
    ] = None
    other_work: Annotated[
        OtherWork | None,
        _choice(
            OtherWork,
            "what was done stands in free words (`coil replaced, was broken`); what lines mean that name a part and no "
            "work in them",
            '"replace"',
        ),
    ] = None
    names: NameKeys = NameKeys()
    erased: ErasedKeys = ErasedKeys()
    wide: Annotated[
        dict[str, Text],
        _field(_A_TEXT, "with a column a module: the file's column to the module whose codes it holds", '"ECM"'),
    ] = {}
    wide_states: Annotated[
        dict[str, Text],
        _field(_A_TEXT, "with a column a module: that column to the one with the states of its codes", '"ECM state"'),
    ] = {}
    crossed: Annotated[
        Pattern | None,
        _field(
            _A_PATTERN,
            "with a column a code, its state or a cross below it: the pattern that takes module and code out of the "
            "columns' names; with a column a scan, car and day",
            r"'^(?<module>\w+) (?<code>[PCBU]\w{4})$'",
        ),
    ] = None
    flags: FlagKeys = FlagKeys()
    join: JoinKeys = JoinKeys()
    lines: LineKeys = LineKeys()
    text: TextKeys | None = None


_NAMES_BELOW = {"columns": ".*", "constants": ".*", "values": ".*.*", "pick": ".*", "wide": ".*", "states": ".*"}
_NAMES_BELOW |= {"wide_states": ".*"}
FIELDS = {
    name + _NAMES_BELOW.get(name, ""): field
    for name, field in MappingKeys.model_fields.items()
    if name not in ("codes", "text", "names", "erased", "flags", "join", "lines")
}
FIELDS |= {f"codes.{name}": field for name, field in CodeKeys.model_fields.items()}
FIELDS |= {f"names.{name}": field for name, field in NameKeys.model_fields.items()}
FIELDS |= {f"erased.{name}": field for name, field in ErasedKeys.model_fields.items()}
FIELDS |= {
    f"flags.{name}" + (".*" if name == "columns" else ""): field for name, field in FlagKeys.model_fields.items()
}
FIELDS |= {f"join.{name}" + (".*" if name == "keys" else ""): field for name, field in JoinKeys.model_fields.items()}
FIELDS |= {f"lines.{name}": field for name, field in LineKeys.model_fields.items()}
FIELDS |= {f"text.{name}": field for name, field in TextKeys.model_fields.items()}
"""Every key that may be set, with ``*`` for a name that the dealer chooses."""
HINT = "the first words of keys are " + ", ".join(sorted(MappingKeys.model_fields))
_SAMPLE_NAMES = {"columns": "code", "constants": "odometer_unit", "values": "status.gespeichert", "pick": "odometer"}
_SAMPLE_NAMES |= {"wide": "Engine", "wide_states": "Engine", "states": "Waiting"}
_SAMPLE_NAMES |= {"flags": "Now", "join": "Car"}


def mapping_docs() -> str:
    """Return every key of a mapping as a Markdown page: what it says, what it may hold, and one line that sets it."""
    lines = [
        "# The keys of a mapping",
        "",
        "A mapping is a TOML file in the folder `mappings`; it tells how the export of another program becomes one of",
        "the five tables. `knockon map FILE` drafts one. Keys in front of the first table stand above it in the file.",
        "",
        "| key | says | wanted | for instance |",
        "|---|---|---|---|",
    ]
    for name, field in FIELDS.items():
        key, example = example_of(name)
        extra = field.json_schema_extra
        words = extra["wanted"] if isinstance(extra, dict) else ""
        cells = (f"`{name}`", str(field.description), str(words), f"`{key} = {example}`")
        lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(lines) + "\n"


def example_of(name: str) -> tuple[str, str]:
    """Return a dotted key of ``FIELDS`` with a sample in place of each ``*``, and a TOML value that it may hold."""
    field = FIELDS[name]
    assert field.examples
    return name.partition(".*")[0] + (
        f".{_SAMPLE_NAMES[name.partition('.')[0]]}" if "*" in name else ""
    ), field.examples[0]
