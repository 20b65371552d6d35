"""What of a scan was not read: how many texts that look like a code came into a row, and the lines of all others.

A bid on a scan that was read in part is a bid on a car with fewer faults than it has.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from pipelines.desk.look import Look, words_of
from pipelines.reading.account import codes_in
from pipelines.reading.diagnostics.responses import looks_like_responses

if TYPE_CHECKING:
    from pipelines.reading.read_table import Reading

# One letter or digit more, less or other than a code has: a misprint, or a form that no reader knows.
_NEARLY = re.compile(r"(?<![\w.-])(?:[PCBU][0-9O][0-9A-Z]{3,4}|0x[0-9A-Fa-f]{4,6})(?![\w])")
# Between lines that were read, less is enough.
_AMONG = re.compile(r"(?<![\w.-])(?:[PCBUpcbu][0-9OolI][0-9A-Za-z]{1,4}|0x[0-9A-Fa-f]{4,6})(?![\w])")
_PRINTED = (".txt", ".pdf", ".prn", ".lst", ".log")
_LONGEST = 120
_LOOK = 8192
# A refused cell of marks alone stands for no code.
_SAYS_SOMETHING = r"[\p{L}\p{N}]"
_COUNTS_AS_READ = ". The row counts as read, without a code"


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line or cell that was not read.

    Attributes:
        row: Its row or line of the file; None where nobody can say.
        value: What stands there.
        why: Why it was not read; blank: nothing reads such a line.
    """

    row: int | None
    value: str
    why: str = ""


@dataclass(frozen=True, kw_only=True)
class Unread:
    """What of a scan was not read.

    Attributes:
        codes: Texts that look like a code.
        lines: Those that were not read, a line each.
    """

    codes: int
    lines: tuple[Line, ...]

    @property
    def read(self) -> int:
        """How many of them were read."""
        return self.codes - len(self.lines)


def unread_in(seen: Look, reading: Reading) -> Unread:
    """Return what of a scan was not read.

    Args:
        seen: The look at its file.
        reading: All of its rows.
    """
    rejects = seen.found.rejects
    bad = rejects.filter(pl.col("column") == "code")
    # Of a row that was refused as a whole, its first cell is enough to say which row it is.
    whole = rejects.join(bad, on="row", how="anti", nulls_equal=True).unique("row", keep="first", maintain_order=True)
    refused = pl.concat([bad, whole]).filter(pl.col("value").is_null() | pl.col("value").str.contains(_SAYS_SOMETHING))
    lines = [
        Line(row=row, value=value or "", why=why.removesuffix(_COUNTS_AS_READ))
        for row, _, value, why in refused.iter_rows()
    ]
    lines += _nearly(seen, reading)
    told = codes_in(line.value for line in lines)
    # What the reader itself counts as left out and no line above names, for instance on another sheet.
    more = reading.account.codes_left - min(reading.account.codes_left, told.total())
    lines += [Line(row=None, value=code) for code in _others(reading.account.examples, told, more)]
    kept = reading.rows.filter(pl.col("code").is_not_null())
    read = kept.join(bad, left_on=["row", "code"], right_on=["row", "value"], how="anti").height
    return Unread(codes=read + len(lines), lines=tuple(sorted(lines, key=lambda one: (one.row is None, one.row or 0))))


def _others(examples: tuple[str, ...], told: Counter[str], more: int) -> list[str]:
    named = [code for code in examples if code not in told][:more]
    return named + ["…"] * (more - len(named))


def _nearly(seen: Look, reading: Reading) -> Iterator[Line]:
    """Yield the lines of a file that hold nearly a code and came into no row, not even a refused one."""
    words = words_of(seen.file.path, None).replace("\f", "\n")
    if looks_like_responses(words.encode()[:_LOOK]):
        return
    known = {*reading.rows["row"].to_list(), *reading.rejects["row"].drop_nulls().to_list()}
    own = [name for name in reading.rows.columns if reading.rows[name].dtype == pl.String]
    cells = "\n".join(str(cell) for name in own for cell in reading.rows[name].drop_nulls().unique())
    cells += "\n".join(reading.rejects["value"].drop_nulls())
    printed = seen.file.path.suffix in _PRINTED or (seen.draft is not None and "text" in seen.draft.tables)
    inside = range(min(known, default=0), max(known, default=-1) + 2) if printed else range(0)
    for row, line in enumerate(words.split("\n"), start=1):
        found = (_AMONG if row in inside else _NEARLY).findall(line)
        if (row not in known or not printed) and any(_lost(text, cells) for text in found):
            yield Line(row=row, value=line.strip()[:_LONGEST])


def _lost(text: str, cells: str) -> bool:
    """Say whether a text is no code that a reader counts, and stands in no cell that was read or refused."""
    return not codes_in([text]) and re.search(rf"(?<!\w){re.escape(text)}(?!\w)", cells) is None
