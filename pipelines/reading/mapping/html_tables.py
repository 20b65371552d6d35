"""The tables of an HTML page, and its text line by line, with the standard library's own parser.

Scripts and styles are passed over; a cell over several columns stands in the first of
them, one over several rows in each, and a table inside a cell is a table of its own.
"""

from __future__ import annotations

import re
from html.parser import HTMLParser

_MOST_CELLS, _MOST_SPAN, _DEEPEST = 5_000_000, 200, 50
_BLOCKS = {
    "p",
    "div",
    "br",
    "tr",
    "li",
    "ul",
    "ol",
    "h1",
    "h2",
    "h3",
    "h4",
    "h5",
    "h6",
    "table",
    "pre",
    "dt",
    "dd",
    "hr",
}
_BEGINS = re.compile(
    r"\s*(?:<!doctype html|<html|<\?xml[^>]*>\s*<(?:!doctype )?html|<head|<body|<table|<meta|<!--"
    r"|<(?:p|div|h[1-6]|ul|ol|pre|center|span|style)\b[^>]*>)",
    re.IGNORECASE,
)

_HARD_BLANKS = str.maketrans("\u00a0\u202f\u2007", "   ")
Row = list[str]


def looks_like_html(text: str) -> bool:
    """Say whether a text begins as an HTML page does."""
    return _BEGINS.match(text[:2000]) is not None


def _span(told: str | None) -> int:
    span = told or "1"
    return min(int(span), _MOST_SPAN) if span.isdecimal() and span.isascii() and span != "0" else 1


class Page(HTMLParser):
    """An HTML page, read.

    Attributes:
        tables: Each table's rows of cells, in the order the tables end.
        before: For each of them the lines between the table that ended before it and its beginning.
        lines: The text of the page outside of scripts, a line a block or row, cells two spaces apart.
        after: The lines behind the last table.
        too_large: It has more cells than is good; what came behind is left out.
    """

    def __init__(self, text: str) -> None:
        """Read a page."""
        super().__init__(convert_charrefs=True)
        self.tables: list[list[Row]] = []
        self.before: list[list[str]] = []
        self.lines: list[str] = []
        self.too_large = False
        self._open: list[list[Row]] = []
        self._begun: list[int] = []
        self._ended = 0
        self._cell: list[list[str] | None] = []
        self._span = self._rows = 1
        # By the place in its row: over how many rows more a cell counts, and its text; for this row, and the next.
        self._down: list[dict[int, tuple[int, str]]] = []
        self._next: list[dict[int, tuple[int, str]]] = []
        self._line = ""
        self._hidden = self._typed = 0
        self._cells = 0
        self.feed(text)
        self.close()
        while self._open:
            self._end_table()
        self._end_line()
        self.after = self.lines[self._ended :]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Begin an element."""
        if tag in ("script", "style", "template"):
            self._hidden += 1
        if tag == "dd" and self._line.strip():
            self._line = self._line.rstrip(": \n") + ": "
        elif tag in _BLOCKS:
            self._end_line()
        self._typed += tag == "pre"
        if tag == "table" and len(self._open) < _DEEPEST:
            self._open.append([])
            self._begun.append(len(self.lines))
            self._down.append({})
            self._next.append({})
            self._cell.append(None)
        elif tag == "tr" and self._open:
            self._end_cell()
            self._begin_row()
        elif tag in ("td", "th") and self._open:
            self._end_cell()
            if not self._open[-1]:
                self._begin_row()
            self._put_from_above()
            self._span, self._rows = (_span(dict(attrs).get(name)) for name in ("colspan", "rowspan"))
            self._cell[-1] = []
        elif tag == "br" and self._cell and self._cell[-1] is not None:
            self._cell[-1].append("\n")

    def handle_endtag(self, tag: str) -> None:
        """End an element."""
        if tag in ("script", "style", "template"):
            self._hidden = max(0, self._hidden - 1)
        if tag in ("td", "th", "tr"):
            self._end_cell()
        if tag == "caption" and self._begun:
            self._end_line()
            self._begun[-1] = len(self.lines)
        if tag == "table" and self._open:
            self._end_table()
        if tag in _BLOCKS and tag != "dt":
            self._end_line()
        self._typed = max(0, self._typed - (tag == "pre"))

    def handle_data(self, data: str) -> None:
        """Take a text; blanks that keep words together are blanks."""
        data = data.translate(_HARD_BLANKS)
        if self._hidden:
            return
        if self._cell and self._cell[-1] is not None:
            self._cell[-1].append(data)
        self._line += data

    def _begin_row(self) -> None:
        if self._open[-1]:
            self._put_from_above()
        self._down[-1] |= self._next[-1]
        self._next[-1] = {}
        self._open[-1].append([])

    def _end_cell(self) -> None:
        if not self._cell or self._cell[-1] is None:
            return
        text = "\n".join(" ".join(line.split()) for line in "".join(self._cell[-1]).split("\n")).strip()
        self._cell[-1] = None
        self._line += "  "
        self._cells += self._span
        if self._cells > _MOST_CELLS:
            self.too_large = True
            return
        if self._rows > 1:
            self._down[-1][len(self._open[-1][-1])] = self._rows - 1, text
        self._open[-1][-1] += [text, *[""] * (self._span - 1)]

    def _put_from_above(self) -> None:
        """Put cells over several rows, which began above, in their places of this row."""
        row, down = self._open[-1][-1], self._down[-1]
        while len(row) in down:
            left, text = down.pop(len(row))
            self._next[-1] |= {len(row): (left - 1, text)} if left > 1 else {}
            row.append(text)

    def _end_table(self) -> None:
        self._end_cell()
        self._end_line()
        if self._open[-1]:
            self._put_from_above()
        self.tables.append(self._open.pop())
        self.before.append(self.lines[self._ended : self._begun.pop()])
        self._ended = len(self.lines)
        self._cell.pop()
        self._down.pop()
        self._next.pop()

    def _end_line(self) -> None:
        for line in self._line.split("\n"):
            if line.strip():
                self.lines.append(
                    line.rstrip()
                    if self._typed
                    else re.sub(r"[ \t\r\f\v]+(?=\S)", lambda gap: gap[0] if len(gap[0]) < 3 else "  ", line).rstrip()
                )
        self._line = ""
