"""What kind of file is this: what cuts its cells, where does its header stand, is it JSON?"""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Sequence

from pipelines.reading.drafting.date_guesses import looks_like_date
from pipelines.reading.drafting.guessing import (
    IsModule,
    Source,
    guess_columns,
    holds_code,
    looks_like_code,
    named_visits,
    says_nothing,
    sources_of,
)
from pipelines.reading.drafting.numbers import looks_like_number
from pipelines.reading.drafting.scan_lines import PLATE
from pipelines.reading.drafting.words import ACTIONS, HEADINGS, folded, known_in
from pipelines.reading.headers import missing_columns
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapped_json import columns_of, data_names, named_rows
from pipelines.reading.mapping.reshaping import unique_names
from pipelines.reading.source import is_whole

MOST_LINES = 20_000
_CAR_OR_VIN = re.compile(rf"[A-HJ-NPR-Z0-9]{{17}}|[A-Z]{{1,4}}-?\d{{2,6}}|{PLATE}")
_MOST_VALUES = 20_000
_MOST_ABOVE = 40
_A_COLUMN_OF_CODES = 0.3


def documents_of(text: str, lines: Sequence[str]) -> list[object]:
    """Return the JSON documents of a text: one, or one a line; none where it is no JSON."""
    if not text.lstrip().startswith(("{", "[")):
        return []
    try:
        return [named_rows(json.loads(text))]
    except (ValueError, RecursionError):
        pass
    try:
        return [named_rows(json.loads(line)) for line in lines if line.strip()]
    except (ValueError, RecursionError):
        return []


def cells_of(line: str, delimiter: str) -> list[str]:
    """Return the cells of one line, none where it cannot be cut."""
    try:
        return next(csv.reader(io.StringIO(line), delimiter=delimiter), [])
    except csv.Error:
        return []


def delimited_rows(text: str, delimiter: str) -> dict[int, list[str]]:
    """Return the rows of a delimited text by the number of their first line, cells over several lines among them."""
    rows: dict[int, list[str]] = {}
    reader = csv.reader(io.StringIO(text), delimiter=delimiter)
    number = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows[number] = cells
            number = reader.line_num + 1
            if len(rows) >= MOST_LINES:
                break
    except csv.Error:
        pass
    return rows


def header_row_of(rows: dict[int, list[str]]) -> int | None:
    """Return the row of names: the one in which most headings are known, else the first that holds names only."""
    widths = Counter(len(cells) for cells in rows.values() if len(cells) > 1)
    usual = widths.most_common(1)[0][0] if widths else 0
    first: int | None = None
    best: tuple[int, int] | None = None
    for place, (number, cells) in enumerate(rows.items()):
        if place >= _MOST_ABOVE:
            break
        names = [cell.strip(' "') for cell in cells]
        filled = [name for name in names if name]
        values = any(looks_like_code(name) or looks_like_date(name) or looks_like_number(name) for name in filled)
        if len(filled) < 2 or values:
            continue
        twice = len(set(filled)) < len(filled)
        known = max(len(guess_named([name for name in unique_names(filled) if name], table)) for table in HEADINGS)
        if known >= 2 and (best is None or known > best[0]):
            best = known, number
        if first is None and not twice and len(filled) >= max(2, 0.6 * usual) and len(cells) >= usual:
            first = number
    return best[1] if best else first


def guess_named(names: Sequence[str], table: str) -> list[str]:
    """Return the columns of a table that some headings alone seem to be."""
    return [guess.column for guess in guess_columns([Source(name, ()) for name in names], table, lambda _: False)]


def table_of(columns: dict[str, list[str]], is_module: IsModule) -> tuple[str, str]:
    """Return the table that some columns most likely are, and why."""
    sources = [*sources_of(columns).values()]
    coded = sum(map(holds_code, columns)) > 1  # a column a code
    here = any(holds_code(cell) for source in sources for cell in source.filled[:50])
    if (coded or here) and not (here and not coded and _works_on_cars(sources, is_module)):
        reason = {"reason", "grund", "why"} & {name.strip().lower() for name in columns}
        return ("background", "codes with a reason") if reason else ("scans", "there are codes in it")
    best: tuple[float, str, str] = (-99.0, "scans", "")
    visits = named_visits(sources, is_module) or _tells_work(sources)
    for table in ("repairs", "stock", "parts", "background", "scans"):
        if visits and table in ("parts", "background"):
            continue
        found = [guess.column for guess in guess_columns(sources, table, is_module)]
        missing = missing_columns(found, LAYOUTS[table])
        if table == "repairs" and visits:
            # A job is a car and a day, and what stands above the work may tell all three.
            missing = [name for name in missing if name != "job" and not _tells_work(sources)]
        parts = any(guess.column == "part" for guess in guess_columns(sources, "parts", is_module))
        if table == "stock" and not parts and not visits and {"asking_price", "bought_on", "sold_on"} & {*found}:
            missing = []  # make and model may stand in one cell
        score = len(found) - 2.5 * len(missing) + (0.5 if not missing else 0)
        if score > best[0]:
            has = f"it has {', '.join(found)}" if found else "no column has a heading that is known"
            lacks = f", not {' and '.join(missing)}" if found and missing else ""
            best = score, table, has + lacks
    return best[1], best[2]


def _works_on_cars(sources: Sequence[Source], is_module: IsModule) -> bool:
    """Say whether rows are of work on cars, with their days and parts, and name a code here and there."""
    if any(
        sum(map(holds_code, told)) >= _A_COLUMN_OF_CODES * len(told)
        for source in sources
        if (told := [cell for cell in source.filled if holds_code(cell) or not says_nothing(cell)])
    ):
        return False
    found = {guess.column for guess in guess_columns(sources, "repairs", is_module)}
    return {"vehicle", "done_at", "action", "part"} <= found


def _tells_work(sources: Sequence[Source]) -> bool:
    """Say whether a column holds what was done, in words that are known, most of it beside others."""
    for source in sources:
        others = [one.cells for one in sources if one is not source and len(one.cells) == len(source.cells)]
        rows = zip(source.cells, *others, strict=True)
        cells = [cell for cell, *beside in rows if cell.strip() and any(map(str.strip, beside))]
        known = sum(known_in(ACTIONS, cell) is not None for cell in cells)
        if len(sources) > 1 and len({*cells}) > 1 and known >= 0.6 * len(cells):
            return True
    return False


def paths_of(documents: Sequence[object], is_module: IsModule) -> dict[str, list[str]]:
    """Return every path to a value that is no list or object, with the values; of lists side by side, the fullest.

    Args:
        documents: JSON, or XML as objects.
        is_module: Whether a text names a module; an object of such names is walked through like a list.
    """
    found: dict[str, list[str]] = {}
    stack: list[tuple[str, object, int]] = [("", document, 0) for document in reversed(documents)]
    while stack:
        path, value, depth = stack.pop()
        if isinstance(value, dict) and depth < 50 and _is_keyed(value, is_module):
            names = data_names(value)
            stack += [(f"{path}{{}}.value", below, depth + 1) for below in reversed(names.values())]
            found.setdefault(f"{path}{{}}.name", []).extend(names)
        elif isinstance(value, dict) and depth < 50:
            stack += [(f"{path}.{name}".lstrip("."), below, depth + 1) for name, below in reversed(value.items())]
        elif isinstance(value, list) and depth < 50:
            stack += [(f"{path}[]", below, depth + 1) for below in reversed(value)]
        elif (
            value is not None
            and is_whole(path)
            and is_whole(str(value))
            and len(found.setdefault(path, [])) < _MOST_VALUES
        ):
            found[path].append(str(value).lower() if isinstance(value, bool) else str(value))
    found = _as_lists(found)
    coded = [path for path, cells in found.items() if any(map(looks_like_code, cells))]
    plain_lists = [path.removesuffix("[]") for path in found]  # a list of plain values is one text of its record
    deepest = max(coded or plain_lists, key=_depth, default="")
    chain = deepest[: _last_walk(deepest)]
    # A list of plain values beside the items, or in each of them, is one text of it.
    plain = [path.removesuffix("[]") if path != chain else path for path in found]
    paths = [path for path in plain if chain.startswith(path[: _last_walk(path)])]
    return columns_of(documents, list(dict.fromkeys(paths)), chain, _MOST_VALUES)


def _last_walk(path: str) -> int:
    """Return where the last step through a list or an object ends in a path."""
    return max(path.rfind("[]"), path.rfind("{}")) + 2 if "[]" in path or "{}" in path else 0


def _depth(path: str) -> int:
    return path.count("[]") + path.count("{}")


def _is_keyed(value: dict[str, object], is_module: IsModule) -> bool:
    """Say whether the names of an object are data: modules, with lists or objects of their own, or codes."""
    names = data_names(value)
    below = all(one is None or isinstance(one, list | dict) for one in names.values())
    below = below and any(isinstance(one, list | dict) for one in names.values())
    a_car = any(folded(name) in HEADINGS["scans"]["vehicle"] for name in names)  # though the whole car is a module
    if names and ((below and not a_car and all(map(is_module, names))) or all(map(looks_like_code, names))):
        return True
    # Cars, vehicle numbers or moments as names, with lists or objects of their own.
    cars = len(names) > 1 and all(map(_CAR_OR_VIN.fullmatch, names))
    # Numbers, and addresses of control units, name no fields.
    numbers = all(map(_A_NUMBER.fullmatch, names))
    return below and bool(names) and (cars or numbers or all(map(looks_like_date, names)))


_A_NUMBER = re.compile(r"(?:0[xX])?(?=[A-F]{0,3}\d)[0-9A-F]{2,10}|\d+")


def _as_lists(found: dict[str, list[str]]) -> dict[str, list[str]]:
    """Join ``a.b`` to ``a[].b`` where both are there: XML does not show that what stands alone could be repeated."""
    made: dict[str, list[str]] = {}
    lists = {path[: at.end()] for path in found for at in re.finditer(r"\[\]", path)}
    for path, cells in found.items():
        whole = path
        for one in sorted(lists, key=len):
            bare = one.removesuffix("[]")
            if whole.startswith(bare + ".") or whole == bare:
                whole = one + whole[len(bare) :]
        made.setdefault(whole, []).extend(cells)
    return made
