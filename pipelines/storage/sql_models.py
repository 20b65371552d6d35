"""The SQL models: what each file promises in its header, and the order in which they can be built.

A model is one SELECT in one file.  Its header says "One row per ...", its grain
(the columns that name a row), what it reads, and which parameters it takes.
The header is checked against the query, so it cannot drift from it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from importlib.resources import files

import polars as pl

from pipelines.errors import ModelError

LAYERS = ("staging", "core", "marts")
_SOURCE = re.compile(r"\b(?:from|join)\s+([a-z_]+\.[a-z_]+)", re.IGNORECASE)
_PARAM = re.compile(r"\$([a-z_]+)")


@dataclass(frozen=True)
class Model:
    """One SQL model.

    Attributes:
        name: Schema-qualified, ``core.scans`` for instance.
        grain: The columns that together name one row.
        reads: The tables it reads, schema-qualified.
        params: The names of the parameters it takes.
        query: The SELECT, as it stands in the file.
    """

    name: str
    grain: tuple[str, ...]
    reads: tuple[str, ...]
    params: tuple[str, ...]
    query: str


def parse_model(name: str, text: str) -> Model:
    """Read a model's header and hold it against its query.

    Args:
        name: Schema-qualified name of the model.
        text: The whole file.

    Returns:
        The model.

    Raises:
        ModelError: The header lacks a part, or says other tables or parameters than the query uses.
    """
    header = _header(text)
    if not re.match(r"-- One row per ", text):
        raise ModelError(f"sql/{_path(name)}: the first line must begin '-- One row per '; found {text[:40]!r}")
    parts = {key: _names(header, key) for key in ("grain", "reads", "params")}
    for key in ("grain", "reads"):
        if not parts[key]:
            raise ModelError(f"sql/{_path(name)}: the header lacks a line '-- {key}: ...'")
    query = re.sub(r"--[^\n]*", "", text)
    used = {"reads": set(_SOURCE.findall(query)), "params": set(_PARAM.findall(query))}
    for key, found in used.items():
        if found != set(parts[key]):
            raise ModelError(
                f"sql/{_path(name)}: the header says {key} {sorted(parts[key])}, the query {sorted(found)}"
            )
    return Model(name, parts["grain"], parts["reads"], parts["params"], text)


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


def shipped_models() -> list[Model]:
    """Return every model that ships with the program, in build order."""
    models = []
    for layer in LAYERS:
        for entry in files("sql").joinpath(layer).iterdir():
            if entry.name.endswith(".sql"):
                name = f"{layer}.{entry.name.removesuffix('.sql')}"
                models.append(parse_model(name, entry.read_text(encoding="utf-8")))
    return build_order(models)


def upstream(models: Sequence[Model], name: str) -> list[Model]:
    """Return the model ``name`` and all that it rests on, in build order."""
    needed = {name}
    for model in reversed(models):
        if model.name in needed:
            needed.update(model.reads)
    return [model for model in models if model.name in needed]


def downstream(models: Sequence[Model], name: str) -> list[Model]:
    """Return the model ``name`` and all that rest on it, in build order."""
    found = {name}
    for model in models:
        if found & set(model.reads):
            found.add(model.name)
    return [model for model in models if model.name in found]


def reference_table(name: str) -> pl.DataFrame:
    """Return the shipped reference table ``name``: text columns, blanks as nulls, rows in the file's order."""
    text = files("sql").joinpath("reference", f"{name}.csv").read_bytes()
    return pl.read_csv(text, infer_schema=False)


def reference_names() -> list[str]:
    """Return the names of the shipped reference tables."""
    entries = files("sql").joinpath("reference").iterdir()
    return sorted(entry.name.removesuffix(".csv") for entry in entries if entry.name.endswith(".csv"))


def _path(name: str) -> str:
    return name.replace(".", "/") + ".sql"


def _header(text: str) -> str:
    lines = [line[2:] for line in text.splitlines() if line.startswith("--")]
    # A line that is indented by three goes on with the one above it.
    return re.sub(r"\n {3,}", " ", "\n".join(lines))


def _names(header: str, key: str) -> tuple[str, ...]:
    found = re.search(rf"^ {key}: (.+)$", header, flags=re.MULTILINE)
    return tuple(part.strip() for part in found.group(1).split(",")) if found else ()
