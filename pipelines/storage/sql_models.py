"""The SQL models: what each file promises in its header, and the order in which they can be built.

A model is one SELECT in one file.  Its header says "One row per ...", its grain
(the columns that name a row), what it reads, which columns it makes, and which
parameters it takes.  What it reads and takes is held against the query here, as
the database's own parser understands it; the columns are held against the table
when it is built.

The columns are declared in the header and nowhere else.  The types of the frames
that the analysis is given come from there as plain polars types: a library for
typed frames would want a class for each mart, which says every column once more.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from graphlib import CycleError, TopologicalSorter
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

import duckdb
import polars as pl

from pipelines.errors import ModelError

LAYERS = ("staging", "core", "marts")
TYPES: Mapping[str, pl.DataType] = {
    "bigint": pl.Int64(),
    "boolean": pl.Boolean(),
    "date": pl.Date(),
    "double": pl.Float64(),
    "timestamp": pl.Datetime("us"),
    "varchar": pl.String(),
    "varchar[]": pl.List(pl.String()),
}
"""The types that a column may have, as the database names them, and as they arrive in polars."""
UNITS = ("cents", "days", "km", "minutes")

_COLUMN = re.compile(rf"(\w+) ({'|'.join(map(re.escape, TYPES))})(?: ({'|'.join(UNITS)}))?( or blank)?: (\S.*)")


@dataclass(frozen=True, kw_only=True)
class ModelColumn:
    """One column that a model makes.

    Attributes:
        name: Its name.
        type: One of ``TYPES``.
        unit: One of ``UNITS``, or None where it has none.
        may_be_blank: A row may hold nothing there.
        meaning: What it says, in a few words.
    """

    name: str
    type: str
    unit: str | None
    may_be_blank: bool
    meaning: str


@dataclass(frozen=True, kw_only=True)
class Model:
    """One SQL model.

    Attributes:
        name: Schema-qualified, ``core.scans`` for instance.
        row: What one row is, ``One row per ...``.
        grain: The columns that together name one row.
        reads: The tables it reads, schema-qualified.
        columns: The columns it makes, in order.
        params: The names of the parameters it takes.
        query: The SELECT, as it stands in the file.
    """

    name: str
    row: str
    grain: tuple[str, ...]
    reads: tuple[str, ...]
    columns: tuple[ModelColumn, ...]
    params: tuple[str, ...]
    query: str

    @property
    def schema(self) -> pl.Schema:
        """The columns as they arrive in polars."""
        return pl.Schema({column.name: TYPES[column.type] for column in self.columns})

    @property
    def filled(self) -> tuple[str, ...]:
        """The columns in which every row holds something."""
        return tuple(column.name for column in self.columns if not column.may_be_blank)


def parse_model(name: str, text: str) -> Model:
    """Read a model's header and hold it against its query.

    Args:
        name: Schema-qualified name of the model.
        text: The whole file.

    Returns:
        The model.

    Raises:
        ModelError: The header lacks a part, or says other tables or parameters than the query uses; or the query is
            no SELECT.
    """
    model = read_header(name, text)
    for key, used in _used(f"sql/{_path(name)}", text).items():
        said = {"reads": model.reads, "params": model.params}[key]
        if used != set(said):
            raise ModelError(f"sql/{_path(name)}: the header says {key} {sorted(said)}, the query {sorted(used)}")
    return model


def read_header(name: str, text: str) -> Model:
    """Read a model's header alone.

    Args:
        name: Schema-qualified name of the model.
        text: The whole file.

    Returns:
        The model.

    Raises:
        ModelError: The header lacks a part.
    """
    place = f"sql/{_path(name)}"
    row = re.match(r"-- (One row per .+)\n", text)
    if not row:
        raise ModelError(f"{place}: the first line must begin '-- One row per '; found {text[:40]!r}")
    header = _header(text)
    parts = {key: _names(header, key) for key in ("grain", "reads", "params")}
    columns = _columns(place, text)
    for key, found in {**parts, "columns": columns}.items():
        if not found and key != "params":
            raise ModelError(f"{place}: the header lacks a line '-- {key}: ...'")
    model = Model(
        name=name, row=row[1], grain=parts["grain"], reads=parts["reads"], columns=columns, params=parts["params"],
        query=text,
    )  # fmt: skip
    if not set(model.grain) <= set(model.filled):
        raise ModelError(f"{place}: the grain {list(model.grain)} must be among the columns that are never blank")
    return model


def build_order(models: Iterable[Model]) -> list[Model]:
    """Return the models in an order in which each comes after all it reads.

    Raises:
        ModelError: Two models read each other in a circle.
    """
    by_name = {model.name: model for model in sorted(models, key=lambda model: model.name)}
    graph = {name: sorted(set(model.reads) & by_name.keys()) for name, model in by_name.items()}
    try:
        return [by_name[name] for name in TopologicalSorter(graph).static_order()]
    except CycleError as error:
        raise ModelError(f"these SQL models read each other in a circle: {', '.join(error.args[1])}") from error


@cache
def shipped_models() -> tuple[Model, ...]:
    """Return every model that ships with the program, in build order; the tests hold each against its query."""
    names = [
        f"{layer}.{entry.name.removesuffix('.sql')}"
        for layer in LAYERS
        for entry in files("sql").joinpath(layer).iterdir()
        if entry.name.endswith(".sql")
    ]
    return tuple(build_order(read_header(name, _shipped(name).read_text(encoding="utf-8")) for name in names))


@cache
def shipped_model(name: str) -> Model | None:
    """Return the model of that name that ships with the program, or None; its header alone is read."""
    entry = _shipped(name)
    return read_header(name, entry.read_text(encoding="utf-8")) if entry.is_file() else None


def upstream(*names: str) -> list[Model]:
    """Return shipped models and all that they rest on, in build order; no other file is read.

    Args:
        names: Of models that ship with the program, schema-qualified.
    """
    waiting, found = list(names), dict[str, Model]()
    while waiting:
        name = waiting.pop()
        model = None if name in found else shipped_model(name)
        if model is not None:
            found[name] = model
            waiting += model.reads
    return build_order(found.values())


def column_docs(model: Model) -> str:
    """Return a model's columns as a Markdown section: what a row is, then a table."""
    lines = [f"## {model.name}", "", f"{model.row} Grain: {', '.join(model.grain)}.", ""]
    lines += ["| column | type | unit | may be blank | meaning |", "|---|---|---|---|---|"]
    for column in model.columns:
        blank = "yes" if column.may_be_blank else ""
        lines.append(f"| {column.name} | {column.type} | {column.unit or ''} | {blank} | {column.meaning} |")
    return "\n".join(lines) + "\n"


def marts_page() -> str:
    """Return the page of the marts: the tables that the report is made from, as the headers of their models say."""
    marts = sorted((model for model in shipped_models() if model.name.startswith("marts.")), key=lambda m: m.name)
    return "\n".join(["# The tables that the report is made from\n", *(column_docs(model) for model in marts)])


def reference_table(name: str) -> pl.DataFrame:
    """Return the shipped reference table ``name``: text columns, blanks as nulls, rows in the file's order."""
    text = files("sql").joinpath("reference", f"{name}.csv").read_bytes()
    return pl.read_csv(text, infer_schema=False)


def reference_names() -> list[str]:
    """Return the names of the shipped reference tables."""
    entries = files("sql").joinpath("reference").iterdir()
    return sorted(entry.name.removesuffix(".csv") for entry in entries if entry.name.endswith(".csv"))


def _shipped(name: str) -> Traversable:
    return files("sql").joinpath(_path(name))


def _path(name: str) -> str:
    return name.replace(".", "/") + ".sql"


def _header(text: str) -> str:
    lines = [line[2:] for line in text.splitlines() if line.startswith("--")]
    # A line that is indented by three goes on with the one above it.
    return re.sub(r"\n {3,}", " ", "\n".join(lines))


def _names(header: str, key: str) -> tuple[str, ...]:
    found = re.search(rf"^ {key}: (.+)$", header, flags=re.MULTILINE)
    return tuple(part.strip() for part in found.group(1).split(",")) if found else ()


def _columns(place: str, text: str) -> tuple[ModelColumn, ...]:
    """Read the lines under ``-- columns:``, one column each: ``name type [unit] [or blank]: meaning``."""
    block = re.search(r"^-- columns:\n((?:--   .*\n)*)", text, flags=re.MULTILINE)
    found: list[ModelColumn] = []
    for line in block[1].splitlines() if block else ():
        said = _COLUMN.fullmatch(line.removeprefix("--   "))
        if not said:
            raise ModelError(
                f"{place}: expected a column as 'name type [unit] [or blank]: meaning', the type one of "
                f"{', '.join(TYPES)} and the unit one of {', '.join(UNITS)}; found {line!r}"
            )
        name, kind, unit, blank, meaning = said.groups()
        found.append(ModelColumn(name=name, type=kind, unit=unit, may_be_blank=bool(blank), meaning=meaning))
    return tuple(found)


@cache
def _parser() -> duckdb.DuckDBPyConnection:
    return duckdb.connect(config={"autoinstall_known_extensions": False, "enable_external_access": False, "threads": 1})


def _used(place: str, query: str) -> dict[str, set[str]]:
    """Return the tables and parameters that a query names, as the database's own parser understands it."""
    # get_table_names would do, but takes no query with parameters, and binds what a join says by USING.
    [(parsed,)] = _parser().cursor().execute("select json_serialize_sql($query)", {"query": query}).fetchall()
    told = json.loads(parsed)
    if told["error"]:
        raise ModelError(f"{place}: no SELECT that can be parsed: {told['error_message']}")
    nodes = [node for statement in told["statements"] for node in _nodes(statement)]
    within = {entry["key"] for node in nodes for entry in node.get("cte_map", {}).get("map", ())}
    named = {".".join(node["qualified_name"]["path"]) for node in nodes if node.get("type") == "BASE_TABLE"}
    params = {node["identifier"] for node in nodes if node.get("type") == "VALUE_PARAMETER"}
    return {"reads": named - within, "params": params}


def _nodes(tree: Any) -> Iterator[dict[str, Any]]:
    """Yield every object of a parsed statement."""
    if isinstance(tree, dict):
        yield tree
    for branch in tree.values() if isinstance(tree, dict) else tree if isinstance(tree, list) else ():
        yield from _nodes(branch)
