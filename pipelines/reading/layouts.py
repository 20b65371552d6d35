"""The files that go in, declared once: their columns, what each may hold, and what a row must have.

The reader, the table schemas beside the workspace and the page of columns all
come from these declarations, so they cannot disagree.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analysis.vocabulary.codes import ASKED_WORDS, STATUS_WORDS

Kind = Literal[
    "text", "vin", "number", "integer", "boolean", "datetime", "date", "day or time", "hex byte", "status", "asked"
]


@dataclass(frozen=True)
class Column:
    """One column of a layout.

    Attributes:
        name: As it stands in the header.
        kind: What a cell holds.
        doc: What it means, with its unit.
        required: A blank cell is refused.
        values: The only words it may hold, in lower case; empty where anything goes.
        minimum: Smallest number it may hold.
        maximum: Largest number it may hold.
    """

    name: str
    kind: Kind
    doc: str
    required: bool = False
    values: tuple[str, ...] = ()
    minimum: float | None = None
    maximum: float | None = None


@dataclass(frozen=True)
class Rule:
    """What one row must have over several columns.

    Attributes:
        any_of: At least one of these is filled.
        column: The rule counts only where this column ...
        values: ... holds one of these; with no column it counts for every row.
    """

    any_of: tuple[str, ...]
    column: str | None = None
    values: tuple[str, ...] = ()

    @property
    def doc(self) -> str:
        """The rule in words."""
        filled = f"{' or '.join(self.any_of)} must be filled"
        return filled if self.column is None else f"{filled} where {self.column} is {', '.join(self.values)}"


@dataclass(frozen=True)
class Layout:
    """One table of the inbox.

    Attributes:
        name: The sub-folder of the inbox.
        doc: What one row is.
        columns: In the order of the raw table.
        rules: What holds over several columns.
        internal: Columns that no file of ours has and the reader fills; they are kept beside the others.
        mapped: Those of them that a mapping may fill.
        headed: A file with columns that are none of ours must have one of these, though its cells may be blank: without
            a column for codes every module would count as read and without a code, and the codes may stand in another.
    """

    name: str
    doc: str
    columns: tuple[Column, ...]
    rules: tuple[Rule, ...] = ()
    internal: tuple[Column, ...] = ()
    headed: tuple[str, ...] = ()
    mapped: tuple[str, ...] = ()

    @property
    def mappable(self) -> tuple[Column, ...]:
        """Every column that a mapping may fill."""
        return self.columns + tuple(column for column in self.internal if column.name in self.mapped)

    @property
    def kept(self) -> tuple[Column, ...]:
        """Every column of the raw table: what a file can say, then what the reader adds."""
        return self.columns + self.internal


_MOST_MONEY, _MOST_MINUTES, _MOST_DISTANCE = 1_000_000, 100_000, 10_000_000


def _money(name: str, doc: str) -> Column:
    return Column(name, "number", doc, minimum=0, maximum=_MOST_MONEY)


def _minutes(name: str, doc: str) -> Column:
    return Column(name, "number", doc, minimum=0, maximum=_MOST_MINUTES)


def _distance(name: str, doc: str) -> Column:
    return Column(name, "number", doc, minimum=0, maximum=_MOST_DISTANCE)


def _share(name: str, doc: str) -> Column:
    return Column(name, "number", doc, minimum=0, maximum=1)


_UNIT = Column("odometer_unit", "text", "km or mi; the settings' unit where blank", values=("km", "mi"))
_UTC = "_utc"


def _instant(name: str) -> Column:
    return Column(name + _UTC, "text", f"{name} in UTC, where it was written with an offset; blank where it was local")


def instants(layout: Layout) -> dict[str, str]:
    """Return the columns that hold times, each with the internal column that keeps the same moment in UTC."""
    return {column.name.removesuffix(_UTC): column.name for column in layout.internal if column.name.endswith(_UTC)}


_VIN = Column("vin", "vin", "vehicle identification number; a wrong check digit is a warning where the region uses one")

_SCANS = Layout(
    "scans",
    "one row per code, per module, per scan. A module in no row was not read, so nothing is known of it",
    (
        Column("vehicle", "text", "stock number; may be blank where vin is filled and the stock list knows it"),
        _VIN,
        Column("scanned_at", "datetime", "start of the scan; a time without an offset is local", required=True),
        _distance("odometer", "odometer, in odometer_unit"),
        _UNIT,
        Column("module", "text", "name, abbreviation or diagnostic address of the control unit", required=True),
        Column("module_state", "text", "silent: it was asked and gave no answer; else read", values=("read", "silent")),
        Column(
            "asked",
            "asked",
            f"what the module was asked for: all (also where blank), or some of {', '.join(ASKED_WORDS)}, "
            "`;`-separated. A code is absent only where a list could have named it",
        ),
        Column(
            "code",
            "text",
            "fault code as the scan shows it; blank: the module was read and stored none. `P0301 - text`, `P0301-00`, "
            "`C0045 / 08` and `0x4045` are read as what they are",
        ),
        Column("failure_type", "hex byte", "failure type, where the export has it apart from the code"),
        Column("status", "status", f"ISO 14229-1 status byte as 2 hex digits, or one of {', '.join(STATUS_WORDS)}"),
        Column("occurrences", "integer", "times the module counted it", minimum=0, maximum=10**9),
        _distance("first_odometer", "odometer when the code was first stored, in odometer_unit"),
        Column("text", "text", "the export's own wording, kept as it stands"),
        _distance("km_since_erase", "distance since codes were erased, as the car tells it, in km"),
        Column("warmups_since_erase", "integer", "warm-ups since codes were erased", minimum=0, maximum=65_535),
        Column("monitors_ready", "boolean", "true where all readiness monitors that the car has are complete"),
    ),
    (Rule(("vehicle", "vin")),),
    (
        Column("complete", "boolean", "false: a line of this module's list was not understood, so no code is absent"),
        _instant("scanned_at"),
    ),
    headed=("code", "module_state"),
)

_STOCK = Layout(
    "stock",
    "one row per vehicle; a later row for a vehicle takes the place of the earlier one",
    (
        Column("vehicle", "text", "stock number", required=True),
        _VIN,
        Column("make", "text", "who made the car", required=True),
        Column("model", "text", "model line", required=True),
        Column("model_year", "integer", "model year", minimum=1900, maximum=2100),
        Column("engine", "text", "engine"),
        Column("fuel", "text", "fuel"),
        Column("gearbox", "text", "gearbox"),
        Column("bought_on", "date", "day it came into stock"),
        Column("sold_on", "date", "day it left; blank while it is in stock"),
        _money("asking_price", "asking price, in the workspace's currency"),
        Column("modifications", "text", "what was changed on the car, `;`-separated, for instance `tow bar`"),
    ),
    internal=(
        Column("plate", "text", "number plate: another name of the car, by which scans and repairs may call it"),
    ),
    mapped=("plate",),
)

_NEEDS_PART = ("replace", "repair", "clean", "adjust")

_REPAIRS = Layout(
    "repairs",
    "one row per action of a job; rows with the same vehicle and job are one visit",
    (
        Column("vehicle", "text", "stock number", required=True),
        Column("job", "text", "job number", required=True),
        Column("done_at", "day or time", "day or time it was done; a time without an offset is local", required=True),
        _distance("odometer", "odometer, in odometer_unit"),
        _UNIT,
        Column(
            "action",
            "text",
            "what was done; erase says that codes were erased at that visit",
            required=True,
            values=(*_NEEDS_PART, "software", "inspect", "erase"),
        ),
        Column("part", "text", "the part it was done to"),
        Column("position", "text", "where on the car, for instance front left or cylinder 2"),
        Column("supplier", "text", "who supplied the part"),
        _money("part_cost", "cost of this row's part, in the workspace's currency"),
        _minutes("labour_minutes", "labour of this row, in minutes"),
        Column("note", "text", "anything else"),
    ),
    (Rule(("part",), "action", _NEEDS_PART),),
    (_instant("done_at"),),
)

_PARTS = Layout(
    "parts",
    "the price book, one row per part",
    (
        Column("part", "text", "the part's name", required=True),
        Column("also_called", "text", "other names, `;`-separated"),
        _money("part_cost", "price, in the workspace's currency"),
        _minutes("labour_minutes", "labour to fit it, in minutes"),
        _minutes("check_minutes", "time to prove it faulty before buying it, in minutes"),
        Column("supplier", "text", "who supplies it"),
        Column("opening", "text", "what must come off first; parts with the same words share it"),
        _minutes("opening_minutes", "time to take that off and put it back, beside labour_minutes, in minutes"),
        _share("check_misses", "how often its check calls a faulty one good, a share from 0 to 1; .05 where blank"),
        _share("check_false_alarms", "how often its check calls a good one faulty, a share; .05 where blank"),
    ),
)

_BACKGROUND = Layout(
    "background",
    "codes to leave alone, one row per reason; of rows that name the same the latest counts",
    (
        Column("vehicle", "text", "stock number; blank: every vehicle"),
        Column("make", "text", "make; blank: every make"),
        Column("module", "text", "module; blank: every module"),
        Column("code", "text", "code; blank: every code of the module"),
        Column("reason", "text", "why they are left alone", required=True),
        Column("until", "date", "last day this counts; blank: for good"),
    ),
    (Rule(("module", "code")),),
)

LAYOUTS: dict[str, Layout] = {layout.name: layout for layout in (_SCANS, _STOCK, _REPAIRS, _PARTS, _BACKGROUND)}

_SCHEMA_TYPES: dict[str, tuple[str, str]] = {
    "number": ("number", "default"),
    "integer": ("integer", "default"),
    "boolean": ("boolean", "default"),
    "datetime": ("datetime", "any"),
    "date": ("date", "default"),
}
_SCHEMA_PATTERNS: dict[str, str] = {
    "asked": f"^(all|({'|'.join(ASKED_WORDS)})(;({'|'.join(ASKED_WORDS)}))*)$",
    "hex byte": "^[0-9A-Fa-f]{2}$",
    "status": f"^([0-9A-Fa-f]{{2}}|{'|'.join(STATUS_WORDS)})$",
    "day or time": "^[0-9]{4}-[0-9]{2}-[0-9]{2}([T ][0-9]{2}:[0-9]{2}.*)?$",
}


def table_schema(layout: Layout) -> dict[str, object]:
    """Return the layout in the open Table Schema standard, ready to be written as JSON.

    Args:
        layout: One of ``LAYOUTS``.

    Returns:
        ``fields`` with name, type, format, description and constraints, ``missingValues``, and ``rowRules``: what
        holds over several columns, in words, which the standard has no form for.
    """
    fields = [_schema_field(column) for column in layout.columns]
    rules = [rule.doc for rule in layout.rules]
    return {"description": layout.doc, "fields": fields, "missingValues": [""], "rowRules": rules}


def _schema_field(column: Column) -> dict[str, object]:
    kind, form = _SCHEMA_TYPES.get(column.kind, ("string", "default"))
    limits: dict[str, object] = {"required": column.required}
    if column.values:
        limits["enum"] = list(column.values)
    if column.minimum is not None and column.maximum is not None:
        limits |= {"minimum": column.minimum, "maximum": column.maximum}
    if column.kind in _SCHEMA_PATTERNS:
        limits["pattern"] = _SCHEMA_PATTERNS[column.kind]
    return {"name": column.name, "type": kind, "format": form, "description": column.doc, "constraints": limits}


def column_docs(layout: Layout) -> str:
    """Return the layout's columns as a Markdown section: a table, then the rules over several columns."""
    lines = [f"## {layout.name}", "", layout.doc[0].upper() + layout.doc[1:] + ".", ""]
    lines += ["| column | holds | required | meaning |", "|---|---|---|---|"]
    for column in layout.columns:
        holds = ", ".join(column.values) or column.kind
        lines.append(f"| {column.name} | {holds} | {'yes' if column.required else ''} | {column.doc} |")
    lines += [f"\nIn every row, {rule.doc}." for rule in layout.rules]
    return "\n".join(lines) + "\n"
