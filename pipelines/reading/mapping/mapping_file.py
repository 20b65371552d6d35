"""How another program's export becomes one of the five tables: what a mapping file says.

A mapping is a short TOML file in the workspace's folder ``mappings``.  It says
which files it serves, what they look like, and which of their columns, paths or
patterns is which column of the layout.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from pathlib import Path
from zoneinfo import ZoneInfo

from pipelines.reading.headers import missing_columns
from pipelines.reading.layouts import LAYOUTS, Layout
from pipelines.reading.mapping.cut_lines import REST, LineCuts
from pipelines.reading.mapping.mapping_keys import FIELDS, HINT, MappingKeys, TextKeys
from pipelines.reading.mapping.patterns import groups_of
from pipelines.reading.mapping.reshaping import Header
from pipelines.reading.mapping.units_in_cells import UnitCells
from pipelines.toml_file import TomlFile

FOLDER = "mappings"
EVERY_SHEET = "*"
BY_CODE = "by code"
"""The constant ``module`` of an export that names no module: the letter of each code says which part of the car."""
# Columns that stand beside a code; as many of them as there are columns for codes go with those one by one.
BESIDE_A_CODE = ("module", "failure_type", "status", "text")
# So do these beside a part, where a visit is one row.
BESIDE_A_PART = ("action", "position", "supplier", "part_cost", "labour_minutes", "note")
_ONLY_FOR = {
    "delimiter": ("table",),
    "header_row": ("table", "xlsx"),
    "sheet": ("xlsx",),
    "hidden": ("xlsx",),
    "encoding": ("table", "pairs", "records", "lines", "text", "json", "jsonl", "xml", "html", "fixed"),
    "wide": ("table", "xlsx", "html", "fixed", "pairs", "records", "lines"),
    "wide_states": ("table", "xlsx", "html", "fixed", "pairs", "records", "lines"),
    "crossed": ("table", "xlsx", "html", "fixed", "pairs", "records", "lines"),
    "header": ("table", "xlsx", "html"),
    "join": ("xlsx",),
    "columns": ("table", "xlsx", "html", "fixed", "pairs", "records", "lines", "json", "jsonl", "xml"),
    "fill_down": ("table", "xlsx", "html", "fixed", "pairs", "records", "lines"),
    "above": ("table", "xlsx", "html", "fixed", "pairs", "records", "lines"),
    "skip": ("table", "xlsx", "html", "fixed", "pairs", "records", "lines"),
    "text": ("text", "pdf"),
    "lines": ("lines",),
    "year": ("table", "fixed", "pairs", "records", "lines", "text", "pdf"),
    "session": ("table", "xlsx", "html", "fixed", "pairs", "records", "lines", "jsonl"),
    "erased": ("table", "xlsx", "html", "fixed", "pairs", "records", "lines", "json", "jsonl", "xml"),
}


@dataclass(frozen=True)
class CodeCells:
    """What a cell for codes may hold.

    Attributes:
        separator: What stands between several codes of one cell; None: a cell holds one code.
        no_codes: Words, in lower case, that say the module stored no code.
        silent: Words, in lower case, that say the module did not answer.
        not_read: Words, in lower case, that say the module was not read; such rows tell nothing.
        blank_is_read: An empty cell says that the module was read and stored no code.
        whole_car: What stands as the module of a row that names neither module nor code; None: the row is refused.
        three_bytes: Six hex digits are the two bytes of a code and its failure type.
        one_code: Several columns for codes make one code together.
        each: The pattern of one code of a cell that holds several; None: ``separator`` parts them.
        modules_between: What stands between several modules of one cell, of a row without a code.
        clean: The file's column that lists modules that stored no code.
        silent_modules: The file's column that lists modules that did not answer.
        units: How a cell tells of several modules, each with its codes; None: it tells of one.
        repeated: The file's column that repeats the codes of another one.
    """

    separator: str | None = None
    no_codes: tuple[str, ...] = ()
    silent: tuple[str, ...] = ()
    not_read: tuple[str, ...] = ()
    blank_is_read: bool = True
    whole_car: str | None = None
    three_bytes: bool = False
    one_code: bool = False
    each: str | None = None
    modules_between: str | None = None
    clean: str | None = None
    repeated: str | None = None
    silent_modules: str | None = None
    units: UnitCells | None = None

    @property
    def in_place(self) -> tuple[str, ...]:
        """The words that stand in place of codes."""
        return (*self.no_codes, *self.silent, *self.not_read)


@dataclass(frozen=True)
class ErasedColumn:
    """The column of a list of repairs that says whether codes were erased at the visit.

    Attributes:
        column: Its name in the file.
        yes: Words, in lower case, that say that they were.
    """

    column: str
    yes: tuple[str, ...]


@dataclass(frozen=True)
class Flags:
    """Columns that say by a cross or a yes which state a code has.

    Attributes:
        columns: The file's column to the state.
        yes: Words, in lower case, that mean yes.
        no: Those that mean no; an empty cell does so too, and any other word refuses the row.
        otherwise: The state of a code with a yes in none of them; None: blank.
    """

    columns: dict[str, str]
    yes: tuple[str, ...]
    no: tuple[str, ...] = ()
    otherwise: str | None = None


@dataclass(frozen=True)
class JoinedSheet:
    """Another sheet whose cells stand behind those of each row.

    Attributes:
        sheet: Its name.
        header_row: The row with its columns' names.
        keys: This sheet's column that names a row of the other, to that column's name there.
    """

    sheet: str
    header_row: int
    keys: dict[str, str]


@dataclass(frozen=True)
class TextPatterns:
    """The patterns of a printed text; each line is looked at alone, and named groups are columns of the layout.

    Attributes:
        scan: The first begins a scan; the others add to what is known of it.
        module: A module's heading.
        code: A line with a code.
        no_codes: A line that says the module stored no code.
        silent: A line that says the module did not answer.
        below: Lines below a code that add to it.
        bare_is_read: A heading with none of these lines below it says that the module stored no code.
    """

    scan: tuple[str, ...]
    module: str | None
    code: str
    no_codes: tuple[str, ...]
    silent: str | None
    below: tuple[str, ...]
    bare_is_read: bool

    def named(self) -> Iterator[tuple[str, str]]:
        """Yield each pattern behind the key it stands under."""
        yield from (("scan", pattern) for pattern in self.scan)
        yield from (("below", pattern) for pattern in self.below)
        yield from (("no_codes", pattern) for pattern in self.no_codes)
        for key in ("module", "code", "silent"):
            if getattr(self, key) is not None:
                yield key, getattr(self, key)


@dataclass(frozen=True)
class Mapping:
    """One mapping file, checked.

    Attributes:
        name: Its name in messages, ``mappings/lift.toml`` for instance.
        serves: Patterns of file names.
        table: The table of the inbox that its rows belong to.
        format: table, xlsx, html, fixed, pairs, records, lines, json, jsonl, xml, text or pdf; of a zip that of
            its files.
        signature: A text that must stand near the beginning of the file.
        encoding: Of the file's text.
        delimiter: Between two cells of a table.
        header_row: The row that holds the column names, the first row being 1.
        header: How the names of the columns stand.
        labour: What the numbers for ``labour_minutes`` count: minutes, hours, money, units, or each what it says.
        labour_rate: What an hour of that work costs, where they count money, or how many units it is; else None.
        other_work: What lines mean whose free words name a part and no work; None: ``action`` holds no free words.
        sheets: The sheets of a workbook; ``*``: every one that has the columns; none: its first.
        hidden: Rows that the workbook hides are read.
        decimal: The decimal mark of numbers.
        thousands: The mark between thousands, or None.
        date_formats: The forms of dates, tried in order; empty: ISO 8601.
        year: The year of days that a text tells without one; None: its days have theirs.
        zone: What dates without an offset are local to; None: the workspace's zone.
        columns: Column of the layout to the file's columns (or JSON paths) that make it, joined by a space; several for
            ``code`` are a code each.
        constants: Column of the layout to what it holds in every row.
        values: Column of the layout to: cell in lower case, to what it means.
        pick: Column of the layout to the pattern whose first group is the cell, or whose named groups fill the columns
            they name.
        states: The file's column, in lower case, to the state of the codes in it.
        fill_down: Columns of the file in which an empty cell means what stands above it.
        above: Patterns of rows outside of a table whose named groups count for the rows below.
        skip: Patterns of rows that are passed over.
        file_name: What the file's name tells of every row; None: nothing.
        sheet_name: What a sheet's name tells of every row in it; None: nothing.
        codes: What a cell for codes may hold.
        wide: The file's column to the module whose codes it holds.
        wide_states: Such a column to the one that holds the states of its codes.
        session: The name that numbers the scans of JSON lines, whose car and day stand in one of them.
        crossed: The pattern that takes module and code out of the names of columns that hold a state or a cross each.
        flags: Columns that say by a cross which state a code has; None: there are none.
        join: Another sheet whose cells stand behind those of each row; None: there is none.
        erased: The column that says whether codes were erased, of a list of repairs; None: there is none.
        erased_after_each: Codes were erased after each job, though no row says so.
        lines: How lines without names are cut; None: with another format.
        text: The patterns of a printed text.
    """

    name: str
    serves: tuple[str, ...]
    format: str
    table: str = "scans"
    signature: str | None = None
    encoding: str = "utf-8"
    delimiter: str = ","
    header_row: int = 1
    header: Header = "row"
    labour: str = "minutes"
    labour_rate: float | None = None
    other_work: str | None = None
    sheets: tuple[str, ...] = ()
    hidden: bool = True
    decimal: str = "."
    thousands: str | None = None
    date_formats: tuple[str, ...] = ()
    zone: ZoneInfo | None = None
    year: int | None = None
    columns: dict[str, tuple[str, ...]] = field(default_factory=dict)
    constants: dict[str, str] = field(default_factory=dict)
    values: dict[str, dict[str, str]] = field(default_factory=dict)
    pick: dict[str, str] = field(default_factory=dict)
    states: dict[str, str] = field(default_factory=dict)
    fill_down: tuple[str, ...] = ()
    above: tuple[str, ...] = ()
    skip: tuple[str, ...] = ()
    file_name: str | None = None
    sheet_name: str | None = None
    codes: CodeCells = CodeCells()
    wide: dict[str, str] = field(default_factory=dict)
    wide_states: dict[str, str] = field(default_factory=dict)
    crossed: str | None = None
    session: str | None = None
    flags: Flags | None = None
    join: JoinedSheet | None = None
    lines: LineCuts | None = None
    erased: ErasedColumn | None = None
    erased_after_each: bool = False
    text: TextPatterns | None = None

    def serves_name(self, name: str) -> bool:
        """Say whether a file's name, capitals aside, is one of those this mapping serves."""
        return any(fnmatchcase(name.lower(), pattern.lower()) for pattern in self.serves)

    @property
    def layout(self) -> Layout:
        """The table that its rows belong to."""
        return LAYOUTS[self.table]

    @property
    def each_of(self) -> tuple[str, tuple[str, ...], int]:
        """The column of which several names are one row each, what goes with it, and how many names it has."""
        lead, beside = ("part", BESIDE_A_PART) if self.table == "repairs" else ("code", BESIDE_A_CODE)
        return lead, beside, 1 if self.codes.one_code else len(self.columns.get(lead, ()))

    def made(self) -> dict[str, tuple[str, ...]]:
        """Return what is made of the file's columns: the layout's, those of the n-th code as ``nth(n, column)``."""
        lead, beside, count = self.each_of
        if count < 2:
            return self.columns
        made: dict[str, tuple[str, ...]] = {}
        for column, names in self.columns.items():
            if column == lead or (column in beside and len(names) == count):
                made |= {nth(place, column): (name,) for place, name in enumerate(names)}
            else:
                made[column] = names
        return made

    def source_names(self) -> list[str]:
        """Return every column or path of the file that the mapping uses, each once."""
        erased = [self.erased.column] if self.erased else []
        named = (name for names in self.columns.values() for name in names)
        flags = self.flags.columns if self.flags else ()
        beside = [self.codes.clean, self.codes.silent_modules, self.codes.repeated, self.session]
        return list(
            dict.fromkeys([*named, *self.wide, *self.wide_states.values(), *flags, *erased, *filter(None, beside)])
        )

    def told_above(self) -> list[str]:
        """Return the columns that rows above a table, or its name, may tell."""
        patterns = [*self.above, *filter(None, [self.sheet_name])]
        return list(dict.fromkeys(plain_group(group) for pattern in patterns for group in groups_of(pattern)))


def nth(place: int, column: str) -> str:
    """Return what a column of the n-th code of a line is called on its way."""
    return f"code {place} {column}"


def load_mappings(workspace: Path) -> list[Mapping]:
    """Read every mapping of a workspace.

    Args:
        workspace: The workspace's folder; it may have no ``mappings`` in it.

    Returns:
        The mappings by name.

    Raises:
        SettingsError: A line of one does not mean what it should, or it cannot be opened.
    """
    return [load_mapping(path) for path in sorted((workspace / FOLDER).glob("*.toml"))]


def load_mapping(path: Path) -> Mapping:
    """Read and check one mapping file.

    Raises:
        SettingsError: A line does not mean what it should, and the message names file, line, key, found and wanted;
            or it cannot be opened.
    """
    name = f"{FOLDER}/{path.name}"
    given = TomlFile(path, name)
    keys = given.held_to(MappingKeys, FIELDS, "key of a mapping", HINT)
    _check_format(given, keys)
    mapping = Mapping(
        name=name,
        serves=tuple(keys.serves),
        table=keys.table,
        format=keys.format,
        signature=keys.signature,
        encoding=keys.encoding,
        delimiter=keys.delimiter,
        header_row=keys.header_row,
        header=keys.header,
        labour=keys.labour,
        labour_rate=keys.labour_rate,
        other_work=keys.other_work,
        sheets=_texts(keys.sheet) if keys.sheet else (),
        hidden=keys.hidden == "read",
        decimal=keys.decimal,
        thousands=keys.thousands,
        date_formats=tuple(keys.date_formats or ()),
        year=keys.year,
        zone=ZoneInfo(keys.time_zone) if keys.time_zone else None,
        columns={column: _texts(names) for column, names in keys.columns.items()},
        constants=keys.constants,
        values={
            column: {cell.strip().lower(): means for cell, means in cells.items()}
            for column, cells in keys.values.items()
        },
        pick=keys.pick,
        states={name.strip().lower(): state for name, state in keys.states.items()},
        fill_down=tuple(keys.fill_down or ()),
        above=_texts(keys.above or []),
        skip=_texts(keys.skip or []),
        file_name=keys.names.file,
        sheet_name=keys.names.sheet,
        codes=_code_cells(keys),
        wide=keys.wide,
        wide_states=keys.wide_states,
        crossed=keys.crossed,
        session=keys.session,
        flags=_flags(given, keys),
        join=_join(given, keys),
        lines=_line_cuts(given, keys),
        erased=_erased_column(given, keys),
        erased_after_each=keys.erased.after is not None,
        text=_text_patterns(keys.text) if keys.text else None,
    )
    _check_whole(given, mapping)
    return mapping


def _texts(value: str | list[str]) -> tuple[str, ...]:
    return (value,) if isinstance(value, str) else tuple(value)


def _words(value: list[str] | None) -> tuple[str, ...]:
    return tuple(word.strip().lower() for word in value or ())


def _code_cells(keys: MappingKeys) -> CodeCells:
    codes = keys.codes
    # A column a module is empty wherever the module did not take part.
    blank = codes.blank or ("not read" if "wide" in keys.model_fields_set else "no codes")
    return CodeCells(
        codes.separator,
        _words(codes.no_codes),
        _words(codes.silent),
        _words(codes.not_read),
        blank == "no codes",
        codes.whole_car,
        codes.form == "three bytes",
        codes.columns == "one code",
        codes.each,
        codes.modules_between,
        codes.clean,
        codes.repeated,
        codes.silent_modules,
        UnitCells(codes.units_between, codes.unit) if codes.units_between and codes.unit else None,
    )


def _erased_column(given: TomlFile, keys: MappingKeys) -> ErasedColumn | None:
    column, yes = keys.erased.column, _words(keys.erased.yes)
    if bool(column) != bool(yes):
        raise given.fail(("erased",), ": needs both column and yes: which column says it, and the words for yes")
    if column and keys.erased.after:
        raise given.fail(("erased", "after"), f": {column!r} says already after which jobs codes were erased")
    return ErasedColumn(column, yes) if column else None


def _line_cuts(given: TomlFile, keys: MappingKeys) -> LineCuts | None:
    cut, between, piece = keys.lines.cut, keys.lines.between, keys.lines.piece
    if (keys.format == "lines") != bool(cut) or bool(between) != bool(piece):
        raise given.fail(("lines",), ": format 'lines' needs cut, and between goes with piece")
    if between and REST not in groups_of(cut or ""):
        raise given.fail(("lines", "between"), f": lines.cut names no group {REST} that could be parted")
    return LineCuts(cut, between, piece) if cut else None


def _flags(given: TomlFile, keys: MappingKeys) -> Flags | None:
    columns, yes = keys.flags.columns, _words(keys.flags.yes)
    if bool(columns) != bool(yes):
        raise given.fail(("flags",), ": needs both columns and yes: which columns tell states, and the words for yes")
    return Flags(columns, yes, _words(keys.flags.no), keys.flags.otherwise) if columns else None


def _join(given: TomlFile, keys: MappingKeys) -> JoinedSheet | None:
    join = keys.join
    if not join.sheet and not join.keys:
        return None
    if not join.sheet or len(join.keys) != 1:
        raise given.fail(("join",), ": needs sheet and one column under join.keys, which both sheets have")
    return JoinedSheet(join.sheet, join.header_row, join.keys)


def _text_patterns(text: TextKeys) -> TextPatterns:
    return TextPatterns(
        _texts(text.scan),
        text.module,
        text.code,
        _texts(text.no_codes or []),
        text.silent,
        _texts(text.below or []),
        text.bare_module == "no codes",
    )


def _check_format(given: TomlFile, keys: MappingKeys) -> None:
    """Hold the keys to the format."""
    for key, formats in _ONLY_FOR.items():
        if key in keys.model_fields_set and keys.format not in formats:
            raise given.fail((key,), f": has no meaning with format {keys.format!r}; it goes with {', '.join(formats)}")
    names = [column.name for column in LAYOUTS[keys.table].mappable]
    for key in ("columns", "constants", "values", "pick"):
        for name in getattr(keys, key):
            if name not in names:
                near = difflib.get_close_matches(name, names, n=1)
                hint = f"did you mean {near[0]}?" if near else f"the columns are {', '.join(names)}"
                raise given.fail((key, name), f": {name} is no column of {keys.table}; {hint}")
    for key, table in (
        ("wide", "scans"),
        ("crossed", "scans"),
        ("session", "scans"),
        ("flags", "scans"),
        ("codes", "scans"),
        ("erased", "repairs"),
        ("other_work", "repairs"),
    ):
        if key in keys.model_fields_set and keys.table != table:
            raise given.fail((key,), f": has no meaning with table {keys.table!r}; it goes with {table}")
    if keys.format in _ONLY_FOR["text"] and keys.text is None:
        raise given.fail(("text",), f": is missing; format {keys.format!r} needs its patterns")


def _check_whole(given: TomlFile, mapping: Mapping) -> None:
    """Hold the keys to each other, and the mapping to what the layout must have."""
    if mapping.zone and not mapping.date_formats:
        raise given.fail(("time_zone",), ": needs date_formats beside it")
    if (mapping.labour in ("money", "units")) != (mapping.labour_rate is not None):
        raise given.fail(("labour",), ": money, or units, need labour_rate beside it, and nothing else does")
    if mapping.decimal == mapping.thousands:
        raise given.fail(("thousands",), f": is {mapping.thousands!r}, the same as the decimal mark")
    filled = {*mapping.columns, *mapping.constants, *({"module", "code"} if mapping.wide else ())}
    filled |= {"status"} if mapping.flags or mapping.crossed else set()
    filled |= {"job"} if mapping.text is not None and mapping.table == "repairs" else set()  # else a car and a day
    names = [column.name for column in mapping.layout.mappable]
    for place, pattern in _patterns(mapping):
        groups = {plain_group(group) for group in groups_of(pattern)}
        if unknown := sorted(groups - {*names}):
            raise given.fail(place, f": the group {unknown[0]} is no column of {mapping.table} ({', '.join(names)})")
        if place == ("text", "code") and mapping.table == "scans" and "code" not in groups:
            raise given.fail(place, ": the pattern has no group named code, like (?<code>[PCBU][0-9A-F]{4})")
        filled |= groups
    if mapping.wide and {"module", "code"} & mapping.columns.keys():
        raise given.fail(("wide",), ": a column a module leaves no room for columns.module or columns.code")
    # Without a column for codes a mapping may stand; each file that it reads is refused then, and no other.
    if missing := missing_columns([*sorted(filled), *mapping.layout.headed], mapping.layout):
        raise given.fail(("format",), f": nothing in the mapping fills {' and '.join(missing)}")


def _patterns(mapping: Mapping) -> Iterator[tuple[tuple[str, str] | tuple[str], str]]:
    """Yield each pattern whose groups fill columns, behind the key it stands under."""
    yield from ((("pick", column), pattern) for column, pattern in mapping.pick.items())
    yield from ((("text", key), pattern) for key, pattern in (mapping.text.named() if mapping.text else ()))
    yield from ((("above",), pattern) for pattern in mapping.above)
    yield from ((("codes", "unit"), cells.unit) for cells in filter(None, [mapping.codes.units]))
    yield from ((("codes", "each"), pattern) for pattern in filter(None, [mapping.codes.each]))
    yield from ((("crossed",), pattern) for pattern in filter(None, [mapping.crossed]))
    for key, name in (("file", mapping.file_name), ("sheet", mapping.sheet_name)):
        if name is not None:
            yield ("names", key), name


def plain_group(group: str) -> str:
    """Return the column that a named group fills: ``scanned_at_2`` is the second part of ``scanned_at``."""
    return group[:-2] if group.endswith("_2") else group
