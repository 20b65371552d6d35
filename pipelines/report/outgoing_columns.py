"""What a column of an outgoing table can hold, in which words that is told, and how a table of them is declared."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Kind(Enum):
    """What a column holds, and so how it is rounded and shown."""

    TEXT = "text"
    COUNT = "count"
    FRACTION = "fraction"
    MEASURE = "measure"
    SMALL = "small"
    MONEY = "money"
    DATE = "date"
    KM = "km"
    DAYS = "days"
    BOOLEAN = "boolean"


KIND_WORDS = {
    Kind.TEXT: "text",
    Kind.COUNT: "whole number",
    Kind.FRACTION: "share from 0 to 1, 4 decimals",
    Kind.MEASURE: "number, 4 decimals",
    Kind.SMALL: "number, 4 significant digits",
    Kind.MONEY: "money, 2 decimals",
    Kind.DATE: "ISO date",
    Kind.KM: "km, 1 decimal",
    Kind.DAYS: "days, 1 decimal",
    Kind.BOOLEAN: "true or false",
}


@dataclass(frozen=True)
class Column:
    """One outgoing column.

    Attributes:
        name: Its heading.
        kind: What it holds.
        doc: One sentence, read aloud to whoever asks what the column means.
        required: It is never blank.
        allowed: The only texts it may hold; empty where any text will do.
    """

    name: str
    kind: Kind
    doc: str
    required: bool = False
    allowed: tuple[str, ...] = ()


@dataclass(frozen=True)
class Table:
    """One outgoing table: what a row is, and its columns in order."""

    doc: str
    columns: tuple[Column, ...]


def key(name: str, doc: str, kind: Kind = Kind.TEXT, *allowed: str) -> Column:
    """Return a column that is never blank."""
    return Column(name, kind, doc, required=True, allowed=allowed)


def text(name: str, doc: str, *allowed: str) -> Column:
    """Return a column of text; only the allowed ones where some are named."""
    return Column(name, Kind.TEXT, doc, allowed=allowed)


def share(name: str, doc: str) -> Column:
    """Return a column of shares from 0 to 1."""
    return Column(name, Kind.FRACTION, doc)


def interval(name: str, of: str, level: str) -> tuple[Column, Column]:
    """Return the two columns of an interval of shares."""
    return (
        share(f"{name}_low", f"Lower end of the {level} interval of {of}."),
        share(f"{name}_high", f"Upper end of the {level} interval of {of}."),
    )


def measure(name: str, doc: str) -> Column:
    """Return a column of numbers."""
    return Column(name, Kind.MEASURE, doc)


def money(name: str, doc: str) -> Column:
    """Return a column of money."""
    return Column(name, Kind.MONEY, doc)


def count(name: str, doc: str) -> Column:
    """Return a column of whole numbers."""
    return Column(name, Kind.COUNT, doc)
