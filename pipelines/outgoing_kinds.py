"""What an outgoing column can hold: text, counts, shares, money, dates, and the words for each."""

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
