"""What one cell of each kind looks like in its one spelling.

Dates become 2026-11-23 09:15:00 in the workspace's time zone, numbers lose empty
zeros, fixed words their capitals.  A cell that is not what its column promises
has no spelling: it becomes null, and the caller says where it stood.

Expressions over whole columns, because a file can hold a million rows.
"""

from __future__ import annotations

from collections.abc import Callable
from zoneinfo import ZoneInfo

import polars as pl

from analysis.vocabulary.codes import ASKED_WORDS, STATUS_WORDS
from pipelines.reading.layouts import Column

LONGEST_CELL = 131_072

_NUMBER = r"^[+-]?([0-9]{1,30}(\.[0-9]{0,30})?|\.[0-9]{1,30})([eE][+-]?[0-9]{1,2})?$"
_INTEGER = r"^[+-]?[0-9]{1,18}(\.0*)?$"
# No control unit could be asked, and no row of these tables be written, before 1990.
_DAY = "(199[0-9]|2[01][0-9]{2})-[0-9]{2}-[0-9]{2}"
_MIDNIGHT = rf"^{_DAY}([Tt ]00:00(:00(\.0+)?)?)?$"
_OFFSET = " ?([Zz]|[+-][01][0-9](:?[0-5][0-9])?)"
_CLOCK = "([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9]([.,][0-9]+)?)?"
_TIME = rf"^{_DAY}([Tt ]{_CLOCK}({_OFFSET})?)?$"
_OFFSET_PARTS = "([+-])([0-9]{2}):?([0-9]{2})?$"
_STAMP = "%Y-%m-%d %H:%M:%S"
_WHOLE_BELOW = 1e15

_WANTED: dict[str, str] = {
    "text": f"a text of at most {LONGEST_CELL} characters",
    "vin": "a vehicle number of 4 to 17 letters and digits, a full one without I, O and Q",
    "number": "a number with a decimal point",
    "integer": "a whole number",
    "boolean": "true or false",
    "datetime": "a date and time like 2026-11-23 09:15",
    "date": "a date like 2026-11-23",
    "day or time": "a date like 2026-11-23, or with a time like 2026-11-23 09:15",
    "hex byte": "2 hex digits",
    "status": f"2 hex digits or one of {', '.join(STATUS_WORDS)}",
    "asked": f"all, or some of {', '.join(ASKED_WORDS)} with a semicolon between them",
}
ALL = "all"
EARLIEST = "1990"


def wanted(column: Column) -> str:
    """Return what a cell of the column should be, in words with an example."""
    if column.values:
        return "one of " + ", ".join(column.values)
    if column.minimum is not None and column.maximum is not None:
        return f"{_WANTED[column.kind]} from {column.minimum:.15g} to {column.maximum:.15g}"
    return _WANTED[column.kind]


def once_each(cells: pl.Series, work: Callable[[pl.Series], pl.Series]) -> pl.Series:
    """Work every distinct cell out once; a file of a million rows holds a few thousand of them.

    Args:
        cells: String cells; blank ones are null and stay so.
        work: From the distinct cells to what each becomes, in their order; null where a cell is not what it should be.

    Returns:
        What each cell becomes.
    """
    if cells.null_count() == cells.len():
        return cells
    distinct = cells.drop_nulls().unique()
    good = work(distinct)
    if good.equals(distinct):
        return cells
    return cells.replace_strict(distinct, good, default=None, return_dtype=pl.String)


def one_spelling(column: Column, zone: ZoneInfo) -> pl.Expr:
    """Return the expression that brings the column's cells into their one spelling.

    Args:
        column: What the cells should be; a String column of that name, trimmed, null where blank; any kind but
            vehicle numbers, which the vocabulary reads.
        zone: What times without an offset are local to.

    Returns:
        String cells, null where the cell is blank or is not what it should be.
    """
    cell = pl.col(column.name)
    if column.values:
        lower = cell.str.to_lowercase()
        return pl.when(lower.is_in(list(column.values))).then(lower)
    if column.kind == "datetime":
        return _moment(cell, zone)
    if column.kind == "day or time":
        return pl.when(cell.str.len_bytes() == 10).then(_day(cell)).otherwise(_moment(cell, zone))
    good = _PLAIN[column.kind](cell)
    if column.minimum is not None and column.maximum is not None:
        number = good.cast(pl.Float64, strict=False)
        return pl.when(number.is_between(column.minimum, column.maximum)).then(good)
    return good


def _text(cell: pl.Expr) -> pl.Expr:
    return pl.when(cell.str.len_chars() <= LONGEST_CELL).then(cell)


def _number(cell: pl.Expr) -> pl.Expr:
    number = pl.when(cell.str.contains(_NUMBER)).then(cell).cast(pl.Float64, strict=False)
    whole = (number == number.round()) & (number.abs() < _WHOLE_BELOW)
    return pl.when(whole).then(number.cast(pl.Int64, strict=False).cast(pl.String)).otherwise(number.cast(pl.String))


def _integer(cell: pl.Expr) -> pl.Expr:
    digits = pl.when(cell.str.contains(_INTEGER)).then(cell.str.replace(r"\..*$", ""))
    return digits.cast(pl.Int64, strict=False).cast(pl.String)


def _boolean(cell: pl.Expr) -> pl.Expr:
    lower = cell.str.to_lowercase()
    true = pl.when(lower.is_in(["true", "yes", "1"])).then(pl.lit("true"))
    return true.when(lower.is_in(["false", "no", "0"])).then(pl.lit("false"))


def _hex_byte(cell: pl.Expr) -> pl.Expr:
    digits = cell.str.to_uppercase().str.strip_prefix("0X")
    return pl.when(digits.str.contains("^[0-9A-F]{2}$")).then(digits)


def _status(cell: pl.Expr) -> pl.Expr:
    word = cell.str.to_lowercase()
    return pl.when(word.is_in(list(STATUS_WORDS))).then(word).otherwise(_hex_byte(cell))


def _day(cell: pl.Expr) -> pl.Expr:
    """Accept a day, also one with an empty time of day behind it, as table programs write it."""
    day = pl.when(cell.str.contains(_MIDNIGHT)).then(cell.str.slice(0, 10))
    return pl.when(day.str.to_date("%Y-%m-%d", strict=False).is_not_null()).then(day)


def _asked(cell: pl.Expr) -> pl.Expr:
    """Accept words with semicolons between them, in any order; all of them is ``all``."""
    words = cell.str.to_lowercase().str.split(";").list.eval(pl.element().str.strip_chars())
    words = words.list.eval(pl.element().filter(pl.element().str.len_bytes() > 0))
    known = words.list.eval(pl.element().is_in([ALL, *ASKED_WORDS])).list.all() & (words.list.len() > 0)
    every = pl.all_horizontal(words.list.contains(word) for word in ASKED_WORDS) | words.list.contains(ALL)
    some = [pl.when(words.list.contains(word)).then(pl.lit(word)) for word in ASKED_WORDS]
    return (
        pl.when(known & every).then(pl.lit(ALL)).when(known).then(pl.concat_str(some, separator=";", ignore_nulls=True))
    )


def local(utc: pl.Expr, zone: ZoneInfo) -> pl.Expr:
    """Return the local time of moments in UTC, both written ``2026-11-23 09:15:00``."""
    moment = utc.str.to_datetime(_STAMP, strict=False).dt.replace_time_zone("UTC")
    return moment.dt.convert_time_zone(zone.key).dt.replace_time_zone(None).dt.to_string(_STAMP)


def instant(cell: pl.Expr) -> pl.Expr:
    """Return the moment in UTC of each time that is written with an offset; null for local times."""
    naive, ahead, has_offset = _time_parts(cell)
    return pl.when(has_offset).then((naive - pl.duration(minutes=ahead)).dt.to_string(_STAMP))


def _moment(cell: pl.Expr, zone: ZoneInfo) -> pl.Expr:
    """Accept an ISO 8601 date and time; one with an offset is brought to ``zone``, a bare day means 00:00."""
    naive, _, has_offset = _time_parts(cell)
    here = local(instant(cell), zone)
    # An offset can bring the first hours of 1990 to the year before.
    told = pl.when(has_offset).then(here).otherwise(naive.dt.to_string(_STAMP))
    return pl.when(told.str.slice(0, 4) >= EARLIEST).then(told)


def _time_parts(cell: pl.Expr) -> tuple[pl.Expr, pl.Expr, pl.Expr]:
    """Return the clock's time, how many minutes it is ahead of UTC, and whether it says so."""
    text = pl.when(cell.str.contains(_TIME)).then(cell)
    clock = pl.when(text.str.len_bytes() == 10).then(pl.lit("00:00")).otherwise(text.str.slice(11, 5))
    seconds = pl.when(text.str.slice(16, 1) == ":").then(text.str.slice(17, 2)).otherwise(pl.lit("00"))
    stamp = text.str.slice(0, 10) + " " + clock + ":" + seconds
    naive = stamp.str.to_datetime(_STAMP, strict=False)
    tail = text.str.slice(16)
    sign, hours, minutes = (tail.str.extract(_OFFSET_PARTS, group) for group in (1, 2, 3))
    ahead = hours.cast(pl.Int64) * 60 + minutes.cast(pl.Int64).fill_null(0)
    ahead = pl.when(sign == "-").then(-ahead).otherwise(ahead).fill_null(0)
    return naive, ahead, sign.is_not_null() | tail.str.contains("[Zz]$")


_PLAIN: dict[str, Callable[[pl.Expr], pl.Expr]] = {
    "text": _text,
    "number": _number,
    "integer": _integer,
    "boolean": _boolean,
    "date": _day,
    "hex byte": _hex_byte,
    "status": _status,
    "asked": _asked,
}
