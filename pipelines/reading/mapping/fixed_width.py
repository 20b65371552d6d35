"""Tables in plain text whose columns are parted by blanks alone.

A column is parted from the next where every line of the section, its header included, has a
blank.  A section begins with its header; the pages of a printout repeat it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise

from pipelines.reading.account import LIKE_A_CODE

_RULE = re.compile(r"[\s\-=_+|*.]*")
_PHRASE = re.compile(r"\d+(?= )|\S+(?: [^\W\d]\S*)*")
_NAME = re.compile(r"\S+(?: \S+)*")
_MANY, _MOST_ABOVE, _FEW_CELLS = 3, 4, 0.6
Line = tuple[int, str]


def sections(lines: Sequence[Line], names: Sequence[str]) -> Iterator[tuple[list[str], list[Line]]]:
    """Yield each section that a header with all of some names begins.

    Args:
        lines: Numbered lines.
        names: What the header must hold.

    Returns:
        The header's names, and the numbered lines below it, without blank ones, rules, and titles or feet of pages.
    """
    wanted = [name.lower() for name in names]
    header: Line | None = None
    body: list[Line] = []
    heads = [at for at, (_, line) in enumerate(lines) if all(name in line.lower() for name in wanted)]
    titles = titles_of_pages([line for _, line in lines], heads)
    for number, line in [*(found for at, found in enumerate(lines) if at not in titles), (0, "")]:
        begins = number == 0 or all(name in line.lower() for name in wanted)
        if begins:
            if header is not None:
                yield header_names(header[1], [text for _, text in body], names), [header, *body]
            header, body = (number, line), []
        elif header is not None and not _RULE.fullmatch(line) and _has_gap(line, len(names)):
            body.append((number, line))


def titles_of_pages(lines: Sequence[str], heads: Sequence[int]) -> set[int]:
    """Return the places of lines that stand again and again right above a header, other numbers in them: page titles.

    Args:
        lines: The text.
        heads: The places of the header in it.
    """
    above: dict[str, list[int]] = {}
    for head in heads:
        shapes: dict[str, int] = {}
        for at in range(head - 1, max(-1, head - 1 - _MOST_ABOVE), -1):
            cells = re.split(r"\s{2,}", lines[at].strip())
            names = re.split(r"\s{2,}", lines[head].strip())
            row = len(cells) > _FEW_CELLS * len(names) or _stands_below(lines[at], lines[head])
            if row or re.search(LIKE_A_CODE, lines[at]):
                break  # a row of the page before
            if not _RULE.fullmatch(lines[at]):
                shapes.setdefault(re.sub(r"\d+", "0", " ".join(lines[at].split())), at)
        for shape, at in shapes.items():
            above.setdefault(shape, []).append(at)
    return {at for places in above.values() if len(places) > 1 for at in places}


def _stands_below(line: str, header: str) -> bool:
    """Say whether three phrases of a line or more, and all of them, begin or end where a word of the header does."""
    phrases = [one.span() for one in _PHRASE.finditer(line)]
    names = [one.span() for one in re.finditer(r"\S+", header)]
    begins, ends = {start for start, _ in names}, {end for _, end in names}
    return len(phrases) >= _MANY and all(start in begins or end in ends for start, end in phrases)


def _has_gap(line: str, columns: int) -> bool:
    """Say whether a line can be a row: one of three columns or more holds more than one phrase, titles do not.

    A code alone, further in than the first column, is one more of the row above.
    """
    alone = line[:1].isspace() and re.match(LIKE_A_CODE, line.strip()) is not None
    return columns < _MANY or alone or "  " in line.strip()


def header_names(header: str, body: Sequence[str], known: Sequence[str] = ()) -> list[str]:
    """Return the names of a header: parted by two blanks, or by one below which no line has anything."""
    return [header[start:end].strip() for start, end in columns_of(header, body, known)]


def columns_of(header: str, body: Sequence[str], known: Sequence[str] = ()) -> list[tuple[int, int]]:
    """Return where each column begins and ends.

    Args:
        header: The header line.
        body: The lines below it.
        known: Names that may hold single blanks.

    Returns:
        One place a name of the header, the last open to the end of any line.  Two names are one column where some line
        has something in every place between them.
    """
    if len(body) > _MANY:
        above = _edges(header, body[:-1], known)
        if _is_a_sum(body[-1], above):
            return above
    return _edges(header, body, known)


def _edges(header: str, body: Sequence[str], known: Sequence[str]) -> list[tuple[int, int]]:
    length = max([len(header), *map(len, body)])
    free = [True] * (length + 1)
    for line in body:
        for place, sign in enumerate(line):
            free[place] = free[place] and sign == " "
    spans = _name_spans(header, body, free, known)
    edges = [0]
    for (_, end), (start, _) in pairwise(spans):
        gap = [place for place in range(end, start) if free[place] and header[place : place + 1] in ("", " ")]
        if not gap:
            # A number that begins left of its name, or ends right of it: the blank place nearest to the gap.
            near = [place for place in range(max(edges[-1], end - 12), start) if free[place] and _blank(header, place)]
            gap = near[-1:]
        if gap:
            edges.append(gap[-1] + 1)
    return [*zip(edges, [*edges[1:], length + 1], strict=True)]


def _is_a_sum(line: str, columns: Sequence[tuple[int, int]]) -> bool:
    """Say whether the last line of a section tells of the rows above it: few phrases, the first across two columns."""
    phrases = [*_NAME.finditer(line)]
    across = len(columns) > 1 and bool(phrases) and phrases[0].start() < columns[0][1] < phrases[0].end()
    return across and len(columns) >= _MANY and len(phrases) <= _FEW_CELLS * len(columns)


def _blank(header: str, place: int) -> bool:
    return header[place : place + 1] in ("", " ")


def _name_spans(header: str, body: Sequence[str], free: Sequence[bool], known: Sequence[str]) -> list[tuple[int, int]]:
    """Return where the names of a header stand; single blanks part two names where a column begins behind them."""
    spans: list[tuple[int, int]] = []
    lower = [name.lower() for name in known]
    for match in _NAME.finditer(header):
        start = match.start()
        for blank in re.finditer(" ", match[0]):
            at = match.start() + blank.start()
            begins = sum(line[at + 1 : at + 2].strip() != "" for line in body)
            inside = any(match[0][start - match.start() :].lower().startswith(name) and " " in name for name in lower)
            if not inside and free[at] and body and begins > 0.5 * len(body):
                spans.append((start, at))
                start = at + 1
        spans.append((start, match.end()))
    return spans


def cells_of(line: str, columns: Sequence[tuple[int, int]]) -> list[str]:
    """Return the cells of a line, the last one to its end."""
    last = len(columns) - 1
    return [line[start : None if place == last else end].strip() for place, (start, end) in enumerate(columns)]
