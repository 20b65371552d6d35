"""From the cells of somebody's export to the cells of the scan layout.

Words are translated, dates and numbers brought to one form, several codes in one
cell or one column a module spread over rows.  What cannot be read as the mapping
says refuses its row, with its place; what comes out is checked like any other file.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

import polars as pl

from pipelines.reading.cells import once_each
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import Mapping
from pipelines.reading.tabular.raw_table import RawTable, Reject, tidy

WIDE = "wide "
_KINDS = {column.name: column.kind for column in LAYOUTS["scans"].columns}
_AFTER_SPREADING = ("module", "code")
_SHOWN = 200


@dataclass
class _Work:
    """A table on its way, its refused rows beside it."""

    frame: pl.DataFrame
    rejects: list[Reject]

    def each(self, column: str, change: Callable[[pl.Series], pl.Series], why: str) -> None:
        """Change the distinct cells of a column; a row whose cell cannot be changed is refused."""
        cells = self.frame[column]
        changed = once_each(cells, change)
        self.frame = self.frame.with_columns(changed)
        bad = cells.is_not_null() & changed.is_null()
        if bad.any():
            refused = pl.DataFrame([self.frame["row"], cells]).filter(bad)
            self.rejects += [(row, column, value[:_SHOWN], why) for row, value in refused.iter_rows()]
            self.frame = self.frame.filter(~bad)

    def blank(self, column: str) -> None:
        """Trim a column's cells and make blank ones null."""
        cell = pl.col(column).str.strip_chars()
        self.frame = self.frame.with_columns(pl.when(cell.str.len_bytes() > 0).then(cell))


def to_layout(found: RawTable, mapping: Mapping) -> RawTable:
    """Bring a table of somebody's cells into the scan layout.

    Args:
        found: Int64 ``row``; String columns of the layout as the file spells them; with a column a module, one column
            ``wide NAME`` each.
        mapping: What they mean.

    Returns:
        Rows for the layout's own check, dates with an offset or of another zone in UTC; one row of the file
        can be several here, all with its number.
    """
    work = _Work(tidy(found.frame), found.rejects)
    constants = {name: value for name, value in mapping.constants.items() if name not in work.frame.columns}
    _read_cells(work, mapping, [name for name in work.frame.columns if name not in _AFTER_SPREADING])
    work.frame = _spread(work.frame, mapping)
    _read_cells(work, mapping, _AFTER_SPREADING)
    work.frame = _one_code_a_row(work.frame, mapping)
    work.frame = work.frame.with_columns(pl.lit(value, pl.String).alias(name) for name, value in constants.items())
    return RawTable(work.frame, work.rejects, found.notes)


def _read_cells(work: _Work, mapping: Mapping, columns: list[str] | tuple[str, ...]) -> None:
    for column in columns:
        if column not in work.frame.columns:
            continue
        if column in mapping.values:
            work.each(column, _each_text(_translator(mapping.values[column])), "")
            work.blank(column)
        if column in mapping.pick:
            pattern = mapping.pick[column]
            work.each(column, _picker(pattern), f"expected a cell that fits {pattern}")
            work.blank(column)
        kind = _KINDS.get(column)
        if kind == "datetime" and mapping.date_formats:
            forms = " or ".join(mapping.date_formats)
            work.each(column, _each_text(_date_reader(mapping)), f"expected a date of the form {forms}")
        if kind in ("number", "integer") and (mapping.decimal, mapping.thousands) != (".", None):
            wanted = f"expected a number with the decimal mark {mapping.decimal!r}"
            work.each(column, _each_text(_number_reader(mapping)), wanted)


def _each_text(change: Callable[[str], str | None]) -> Callable[[pl.Series], pl.Series]:
    return lambda found: pl.Series([change(cell) for cell in found], dtype=pl.String)


def _translator(means: dict[str, str]) -> Callable[[str], str]:
    return lambda cell: means.get(cell.lower(), cell)


def _picker(pattern: str) -> Callable[[pl.Series], pl.Series]:
    return lambda found: found.str.extract(pattern, group_index=1)


def _date_reader(mapping: Mapping) -> Callable[[str], str | None]:
    def read(cell: str) -> str | None:
        for form in mapping.date_formats:
            try:
                moment = datetime.strptime(cell, form)
                if moment.tzinfo is None and mapping.zone is None:
                    return moment.strftime("%Y-%m-%d %H:%M:%S")
                if moment.tzinfo is None:
                    moment = moment.replace(tzinfo=mapping.zone)
                return moment.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%SZ")
            except (ValueError, OverflowError):
                continue
        return None

    return read


def _number_reader(mapping: Mapping) -> Callable[[str], str | None]:
    mark, between = re.escape(mapping.decimal), re.escape(mapping.thousands or "")
    whole = rf"\d{{1,3}}(?:{between}\d{{3}})+|\d{{1,30}}" if between else r"\d{1,30}"
    number = re.compile(rf"([+-]?)({whole})(?:{mark}(\d{{1,30}}))?")

    def read(cell: str) -> str | None:
        parts = number.fullmatch(cell)
        if parts is None or not cell.isascii():
            return None
        digits = parts[2].replace(mapping.thousands or "\0", "")
        return parts[1] + digits + (f".{parts[3]}" if parts[3] else "")

    return read


def _spread(frame: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Make one row a module of a row with one column a module."""
    if not mapping.wide:
        return frame
    kept = [name for name in frame.columns if not name.startswith(WIDE)]
    parts = [
        frame.select(*kept, module=pl.lit(module, pl.String), code=pl.col(WIDE + name), place=pl.lit(place, pl.Int64))
        for place, (name, module) in enumerate(mapping.wide.items())
    ]
    return pl.concat(parts).sort("row", "place", maintain_order=True).drop("place")


def _one_code_a_row(frame: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Read the words that stand in place of codes, and give each code of a cell its own row."""
    codes = mapping.codes
    if "code" not in frame.columns:
        return frame
    if not codes.blank_is_read:
        frame = frame.filter(pl.col("code").is_not_null())
    if codes.separator is not None:
        parts = pl.col("code").str.split(codes.separator).list.eval(pl.element().str.strip_chars())
        some = parts.list.eval(pl.element().filter(pl.element().str.len_bytes() > 0))
        frame = frame.with_columns(code=pl.when(some.list.len() > 0).then(some)).explode("code", empty_as_null=True)
    word = pl.col("code").str.to_lowercase()
    silent = word.is_in(list(codes.silent)).fill_null(False)
    nothing = silent | word.is_in(list(codes.no_codes)).fill_null(False)
    states = pl.col("module_state") if "module_state" in frame.columns else pl.lit(None, pl.String)
    return frame.with_columns(
        code=pl.when(~nothing).then(pl.col("code")),
        module_state=pl.when(silent).then(pl.lit("silent")).otherwise(states),
    )
