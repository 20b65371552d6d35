"""Draft the mapping of a table: which rows are its rows, what stands around them, and which table of ours it is."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import islice

from pipelines.reading.drafting.code_lines import fits
from pipelines.reading.drafting.draft import Draft, literal
from pipelines.reading.drafting.draft_columns import draft_columns
from pipelines.reading.drafting.entries import Around
from pipelines.reading.drafting.group_headings import draft_group_headings
from pipelines.reading.drafting.guessing import (
    Source,
    days_and_cars,
    guess_columns,
    holds_code,
    says_nothing,
    sources_of,
)
from pipelines.reading.drafting.job_lines import is_job, job_field, job_pattern
from pipelines.reading.drafting.left_out import ask_left_out
from pipelines.reading.drafting.module_headings import module_pattern
from pipelines.reading.drafting.names import ask_time_of_names, both, car_in, date_in, module_in
from pipelines.reading.drafting.not_rows import EXPLAINS, no_rows, units_below
from pipelines.reading.drafting.numbers import looks_like_number
from pipelines.reading.drafting.scan_lines import (
    CLOCK,
    FIELDS,
    fields,
    heading,
    heading_unit,
    is_labelled,
    scan_patterns,
)
from pipelines.reading.drafting.sniffing import guess_named, table_of
from pipelines.reading.drafting.table_shape import HOW_NAMES_STAND, shape_of
from pipelines.reading.drafting.units_of_work import units_of_work
from pipelines.reading.drafting.words import Modules, legend_in, units_of
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapped_json import NULL, nulls_of
from pipelines.reading.mapping.reshaping import Header, plain, reshaped, unique_names
from pipelines.reading.mapping.table_surroundings import row_text
from pipelines.reading.mapping.workbook_reader import Formula

_MOST_COLUMNS = 200
_OFTEN, _MOST_ABOVE = 0.1, 40
_FEWEST_TOLD, _FEW_WORDS = 2, 4


@dataclass(frozen=True)
class Sample:
    """Rows of a file that hold a table.

    Attributes:
        header_row: The number of the row with the names.
        rows: Cells by the number of each row.
        before: Lines above the rows.
        after: Lines below them that belong to no other table.
        header: How the names of the columns stand in the file; here they are in one row.
        begins: The row of the file in which they begin, where they are not in one row.
    """

    header_row: int
    rows: dict[int, list[str]]
    before: Sequence[str] = field(default_factory=tuple)
    after: Sequence[str] = field(default_factory=tuple)
    header: Header = "row"
    begins: int = 0

    @cached_property
    def names(self) -> list[str]:
        """The names of the columns, blanks inside them made single and no two alike."""
        return unique_names([" ".join(name.split()) for name in self.rows.get(self.header_row, [])[:_MOST_COLUMNS]])

    @property
    def turned_names(self) -> list[str]:
        """The names of a turned table, below which lines of words may stand too."""
        return self.names if self.header == "first column" else []

    @property
    def above(self) -> list[str]:
        """The lines above the header, as the patterns see them."""
        lines = [[line] for line in self.before]
        return [row_text(cells) for cells in (*lines, *(self.rows[at] for at in self.rows if at < self.header_row))]

    @property
    def lines(self) -> list[str]:
        """Every row and line but the header, as the patterns see them, in their order."""
        return [*self.above, *map(row_text, self.below), *(row_text([line]) for line in self.after)]

    @property
    def below(self) -> list[list[str]]:
        """The rows below the header, without those that repeat it."""
        header = [plain(name) for name in self.rows.get(self.header_row, [])]
        return [
            cells
            for at, cells in self.rows.items()
            if at > self.header_row and [plain(cell) for cell in cells] != header
        ]


def sample_of(rows: dict[int, list[str]], is_module: Modules) -> Sample | None:
    """Return the table that rows hold, its names in one row; None where nothing tells where they stand."""
    shape = shape_of(rows, is_module)
    if shape is None:
        return None
    above = [row_text(cells) for at, cells in rows.items() if shape.header != "row" and at < shape.row]
    return Sample(
        shape.names_at, shape.rows, above if shape.header == "first column" else (), (), shape.header, shape.row
    )


def card_of(rows: dict[int, list[str]]) -> Sample | None:
    """Return a table of names and one value each, as cards of cars are; None where it is none, or a few are unknown."""
    filled = {at: cells for at, cells in rows.items() if any(map(str.strip, cells))}
    if len(filled) < _FEW_WORDS or any(len(cells) != _FEWEST_TOLD or holds_code(cells[0]) for cells in filled.values()):
        return None
    names = [cells[0] for cells in filled.values()]
    if len({*names}) < len(names) or len(known_names(names)) < max(_FEW_WORDS - 1, 0.5 * len(names)):
        return None
    begins = min(filled)
    shaped = dict(reshaped(sorted(filled.items()), "first column", begins)[0])
    return Sample(1, shaped, (), (), "first column", begins)


def draft_rows(
    draft: Draft,
    samples: Sequence[Sample],
    is_module: Modules,
    files: Sequence[str],
    sheets: Sequence[str] = (),
    *,
    number: bool = True,
) -> None:
    """Draft a table, or several with the same columns.

    Args:
        draft: Gets the lines.
        samples: The tables.
        is_module: Whether a text names a module.
        files: The names of the files that they come from.
        sheets: The names of the sheets, one a table; none where it is no workbook.
        number: The mapping names the header's row.
    """
    first = samples[0]
    if first.header != "row":
        draft.put("header", first.header, HOW_NAMES_STAND[first.header])
    if number:
        why = "the row in which most headings are known" if first.header == "row" else "where the table begins"
        draft.put("header_row", first.header_row if first.header == "row" else first.begins, why)
    _ask_twice(draft, samples[0])
    _explained(draft, [line for sample in samples for line in (*sample.lines, *sample.turned_names)])
    rows = [cells for sample in samples for cells in sample.below]
    texts = [text for text in map(row_text, rows) if not holds_code(text)]
    skips = no_rows(rows, is_module)
    if skips:
        left = {text for text in texts if any(re.search(pattern, text) for pattern in skips)}
        draft.put("skip", skips, f"{min(left, default='')!r} is no row of the table")
        rows = [cells for cells in rows if row_text(cells) not in left]
    columns = _columns(samples[0].names, rows)
    table = _ask_table(draft, columns, is_module)
    around = Around()
    _put_unit_below(draft, first, table)
    lacking = _lacking(draft, columns, table, is_module) if table in ("scans", "repairs") else set()
    if table in ("repairs", "parts"):
        around, rows = (
            draft_group_headings(draft, rows, columns, is_module)
            if table == "parts"
            else _draft_jobs(draft, samples, lacking, rows)
        )
        columns = _columns(samples[0].names, rows)
    if table == "scans" and lacking & {"vehicle", "scanned_at", "module"}:
        patterns = _patterns(samples, lacking, is_module)
        around = _told(patterns, [line for sample in samples for line in sample.lines])
        if patterns:
            outside = (line for sample in samples for line in (*sample.above, *sample.after))
            around.nothing = [line for line in outside if says_nothing(line) and not fields(line)]
            draft.put("above", patterns, f"rows like these tell {', '.join(around.cells)} of those below them")
            _ask_untold(draft, samples, patterns, sheets)
            texts = [row_text(cells) for cells in rows]
            around_it = [any(fits(pattern, text) for pattern in patterns) and not says_nothing(text) for text in texts]
            rows = [cells for cells, outside in zip(rows, around_it, strict=True) if not outside]
            columns = _columns(samples[0].names, rows)
            unit = heading_unit(line for sample in samples for line in sample.above)
            if "odometer" in around.cells and "odometer_unit" not in around.cells and unit:
                draft.put("odometer_unit", unit, "the word in front of the number says so", "constants")
        _draft_names(draft, lacking, around, {"sheet": sheets, "file": files}, is_module)
    if table in _FILLED and not (table == "scans" and _draft_session(draft, columns, is_module)):
        columns = _filled_down(draft, columns, table, is_module)
    draft_columns(draft, columns, table, is_module, around)
    if table == "scans":
        inside = ("  ".join(" ".join(cell.split()) for cell in cells if cell.strip()) for cells in rows)
        ask_left_out(draft, [*(line for sample in samples for line in sample.above), *inside])


def _ask_untold(draft: Draft, samples: Sequence[Sample], patterns: Sequence[str], sheets: Sequence[str]) -> None:
    """Ask about sheets in which no line tells the day that the lines of the others tell."""
    days = [pattern for pattern in patterns if "<scanned_at>" in pattern]
    untold = [
        (name, one)
        for name, one in zip(sheets, samples, strict=False)
        if not any(fits(pattern, line) for pattern in days for line in one.lines)
    ]
    if not days or not untold:
        return
    name, sample = untold[0]
    title = next((line.strip() for line in sample.above if line.strip()), "")
    asks = f"Of {', '.join(repr(name) for name, _ in untold[:_FEW_WORDS])} no line tells the day"
    asks += f", like {title[:100]!r} of {name!r}" if title else ""
    why = "lines tell it of the others in another form; without a day none of the rows can be taken"
    draft.ask_leave("above.scanned_at", f"{asks}. May all their rows be refused?", why)


def _explained(draft: Draft, lines: Sequence[str]) -> None:
    """Keep what lines explain: what marks mean, and what a unit of work is."""
    draft.legend |= legend_in(lines)
    draft.units_of_work |= units_of_work(lines)


def _draft_jobs(
    draft: Draft, samples: Sequence[Sample], lacking: set[str], rows: list[list[str]]
) -> tuple[Around, list[list[str]]]:
    """Draft what lines around tables of work tell of each job; return it, and the rows of the tables alone."""
    if not lacking & {"vehicle", "job", "done_at"}:
        return Around(), rows
    lines = [line for sample in samples for line in sample.lines if line]
    wanted = {"vehicle", "vin", "scanned_at", "odometer", "odometer_unit"} - ({"vehicle", "vin"} - lacking)
    wanted -= {"scanned_at"} - {name.replace("done_at", "scanned_at") for name in lacking}
    found = scan_patterns([line for line in lines if not is_job(line)], {*()}, wanted)
    patterns = [pattern.replace("<scanned_at>", "<done_at>").replace("<vin>", "<vehicle>") for pattern in found]
    patterns = [pattern for pattern in patterns if pattern.count("<vehicle>") < 2 and "_2>" not in pattern]
    jobs = [line for line in lines if is_job(line)] if "job" in lacking else []
    patterns += [_job_heading(jobs, wanted)] if jobs else []
    first = {
        pattern: next((at for at, line in enumerate(lines) if fits(pattern, line)), len(lines)) for pattern in patterns
    }
    patterns = sorted(patterns, key=lambda pattern: first[pattern])
    if not patterns:
        return Around(), rows
    around = _told(patterns, lines)
    draft.put("above", patterns, f"lines like these tell {', '.join(around.cells)} of the work below them")
    unit = heading_unit(lines)
    if "odometer" in around.cells and "odometer_unit" not in around.cells and unit:
        draft.put("odometer_unit", unit, "the word in front of the number says so", "constants")
    kept = [cells for cells in rows if not any(fits(pattern, row_text(cells)) for pattern in patterns)]
    return around, [cells for cells in kept if len(cells) > 1 or len(samples[0].names) < _FEW_WORDS]


def _job_heading(jobs: Sequence[str], wanted: Collection[str]) -> str:
    """Return the pattern of lines that name a job, with what else of the visit all of them tell."""
    job = job_field(jobs[0])
    told = [field for field in fields(jobs[0]) if field.column in wanted and not job.start <= field.start < job.end]
    head = heading(jobs[0], sorted([job, *told], key=lambda field: field.start))
    head = head.replace("<scanned_at>", "<done_at>").replace("<vin>", "<vehicle>")
    return head if told and "_2>" not in head and all(fits(head, line) for line in jobs) else job_pattern(jobs[0])


def _ask_twice(draft: Draft, sample: Sample) -> None:
    """Ask for a header whose names are each there once, where a row with more known ones has some twice."""
    known = len(known_names(sample.names))
    for number, cells in islice(sample.rows.items(), _MOST_ABOVE):
        names = [" ".join(cell.split()) for cell in cells if cell.strip()]
        twice = sorted({name for name in names if names.count(name) > 1})
        values = any(holds_code(name) or looks_like_number(name) for name in names)
        if twice and not values and len(known_names([*dict.fromkeys(names)])) > known:
            draft.ask(
                "columns.twice",
                f"Which columns does row {number} name? It has {', '.join(twice)} more than once.",
                None,
                "the names of columns must differ: write what each belongs to in front of it, and draft again",
            )
            return


def known_names(names: Sequence[str]) -> list[str]:
    """Return those of some names of columns that are known, by the table that knows most of them."""
    return max((guess_named([name for name in names if name], table) for table in LAYOUTS), key=len)


_FILLED = {
    "scans": ("vehicle", "vin", "scanned_at", "odometer"),
    "repairs": ("vehicle", "job", "done_at", "odometer"),
}
"""The columns that name a scan or a visit, by table."""


def _draft_session(draft: Draft, columns: Mapping[str, list[str]], is_module: Modules) -> bool:
    """Ask which column numbers the scans, where one row of each tells its car and its others name the units."""
    sources = [*sources_of(columns).values()]
    guesses = {guess.column: guess.source for guess in guess_columns(sources, "scans", is_module)}
    car = guesses.get("vehicle") or guesses.get("vin")
    if car is None or "module" not in guesses:
        return False
    cars, modules = columns[car], columns[guesses["module"]]
    codes = columns[guesses["code"]] if "code" in guesses else [""] * len(modules)
    rows = [*enumerate(zip(cars, modules, codes, strict=True))]
    heads = [at for at, (one, module, code) in rows if one.strip() and not (module.strip() or code.strip())]
    told = [at for at, (_, module, _) in rows if module.strip()]
    if not heads or not told or any(cars[at].strip() for at in told):
        return False
    ties = (name for name, cells in columns.items() if name not in guesses.values() and _ties(cells, heads, told))
    proposal = next(ties, None)
    shown = ", ".join(cells[heads[0]] for cells in columns.values() if cells[heads[0]].strip())
    asks = f"Which column numbers the scans? Rows like {shown[:100]!r} tell the car, and others the units of it."
    why = f"rows of one {proposal!r} are of one scan" if proposal else "no column does; write the car into every row"
    answer = draft.ask("session", asks, proposal, why, [*columns])
    if answer is not None:
        draft.put("session", answer, why)
    return answer is not None


def _ties(cells: Sequence[str], heads: Sequence[int], told: Sequence[int]) -> bool:
    """Say whether each of some rows has a number of its own in a column, and some others have those numbers."""
    numbers = [cells[at].strip() for at in heads]
    return all(numbers) and len({*numbers}) == len(numbers) and {cells[at].strip() for at in told} <= {*numbers}


def _filled_down(draft: Draft, columns: dict[str, list[str]], table: str, is_module: Modules) -> dict[str, list[str]]:
    """Ask whether empty cells mean what stands above, where the columns that name a scan are empty all at once."""
    sources = [Source(name, tuple(cells)) for name, cells in columns.items()]
    guesses = {guess.column: guess.source for guess in guess_columns(sources, table, is_module)}
    keys = [guesses[name] for name in _FILLED[table] if name in guesses]
    if not keys and {"module", "code"} <= guesses.keys():
        return _modules_down(draft, columns, guesses["module"], guesses["code"])
    first = keys[0] if keys else ""
    empty = [not cell.strip() for cell in columns.get(first, ())]
    others = [name for name in columns if name not in keys]
    some = [any(columns[name][at].strip() for name in others) for at in range(len(empty))]
    wanted = sum(blank and row for blank, row in zip(empty, some, strict=True))
    if not wanted or empty[0] or wanted < _OFTEN * len(empty) or sum(not blank for blank in empty) < 2:
        return columns
    alike = [name for name in keys if all(not columns[name][at].strip() for at in range(len(empty)) if empty[at])]
    # The time of day stands where the day does.
    alike += [
        name
        for name in others
        if [not cell.strip() for cell in columns[name]] == empty
        and all(CLOCK.fullmatch(cell.strip()) for cell in columns[name] if cell.strip())
    ]
    modules, codes = columns.get(guesses.get("module", ""), ()), columns.get(guesses.get("code", ""), ())
    bare = [code.strip() for module, code, row in zip(modules, codes, some, strict=False) if row and not module.strip()]
    if any(bare) and all(bare):  # a row without either names no module at all
        alike.append(guesses["module"])
    why = f"{wanted} rows have no {first} and something else, as where a cell counts for all rows below it"
    return _ask_down(draft, columns, alike, why)


def _modules_down(draft: Draft, columns: dict[str, list[str]], module: str, code: str) -> dict[str, list[str]]:
    """Ask whether rows with a code and no module belong to the module above them, where lines above tell the scan."""
    bare = [code for name, code in zip(columns[module], columns[code], strict=True) if not name.strip()]
    if not bare or not columns[module][0].strip() or not all(map(holds_code, bare)):
        return columns
    why = f"{len(bare)} rows have a code and no {module}, as where a module has several"
    return _ask_down(draft, columns, [module], why)


def _ask_down(draft: Draft, columns: dict[str, list[str]], alike: list[str], why: str) -> dict[str, list[str]]:
    """Ask whether empty cells of some columns mean what stands above them; return the columns as they are read."""
    asks = f"Do empty cells of {', '.join(alike)} mean what stands above them?"
    if draft.ask("fill_down", asks, "yes", why, ("yes", "no")) == "yes":
        draft.put("fill_down", alike, why)
        for name in alike:
            above, made = "", list[str]()
            for cell in columns[name]:
                above = cell if cell.strip() else above
                made.append(above)
            columns = columns | {name: made}
    return columns


def draft_paths(
    draft: Draft,
    columns: Mapping[str, list[str]],
    is_module: Modules,
    files: Sequence[str],
    documents: Sequence[object],
) -> None:
    """Draft the mapping of JSON by its paths, as ``draft_rows`` does by columns."""
    table = _ask_table(draft, columns, is_module)
    around = Around()
    coded = [path for path, cells in columns.items() if any(map(holds_code, cells))] if table == "scans" else []
    nulls = [nulls_of(documents, path) for path in coded]
    around.nothing += [NULL for null, _ in nulls if null]
    around.empty = any(empty for _, empty in nulls)
    if table in ("stock", "parts"):
        # A car, and a part, is one row: what it has several of is one text.
        columns = {path.removesuffix("[]") or path: cells for path, cells in columns.items()}
    if table == "scans":
        _draft_names(draft, _lacking(draft, columns, table, is_module), around, {"file": files}, is_module)
    draft_columns(draft, columns, table, is_module, around)


def _put_unit_below(draft: Draft, sample: Sample, table: str) -> None:
    """Write the unit of distances that a row of units below the names tells."""
    told = {unit for pattern in units_below(sample.below) for unit in units_of(pattern) if unit in ("km", "mi")}
    if table in ("scans", "repairs") and len(told) == 1:
        draft.put("odometer_unit", told.pop(), "the row of units below the names says so", "constants")


def _columns(names: Sequence[str], rows: Sequence[Sequence[str]]) -> dict[str, list[str]]:
    made = {name: [cells[at] if at < len(cells) else "" for cells in rows] for at, name in enumerate(names) if name}
    # Formulas without stored values tell nothing, nor does a line of words below a turned table.
    return {
        name: cells
        for name, cells in made.items()
        if (not any(cells) and not EXPLAINS.search(name))
        or not all(isinstance(cell, Formula) for cell in cells if cell)
    }


def _ask_table(draft: Draft, columns: Mapping[str, list[str]], is_module: Modules) -> str:
    guess, why = table_of(dict(columns), is_module)
    proposal: str | None = guess
    days, cars = days_and_cars([*sources_of(columns).values()], is_module)
    if guess == "parts" and (days or cars):
        told = "both" if days and cars else "days" if days else "cars"
        proposal, why = None, f"{why}; a price book has no days and no cars, and this has {told}"
    table = draft.ask("table", "Which table do the rows belong to?", proposal, why, tuple(LAYOUTS)) or guess
    if table != "scans":
        draft.put("table", table, why)
    return table


def _lacking(draft: Draft, columns: Mapping[str, list[str]], table: str, is_module: Modules) -> set[str]:
    """Return what no column tells: what is required, and the odometer."""
    trial = draft.copy()
    draft_columns(trial, columns, table, is_module, Around())
    told = {key.removeprefix("columns.") for key in (asked.key for asked in trial.open) if key.startswith("columns.")}
    return told | ({"odometer", "odometer_unit"} if not any("odometer =" in line for line in _lines(trial)) else set())


def _lines(draft: Draft) -> list[str]:
    return [*draft.tables.get("columns", ()), *draft.tables.get("pick", ())]


def _patterns(samples: Sequence[Sample], lacking: set[str], is_module: Modules) -> list[str]:
    """Return the patterns of the rows around the tables that tell what no column does."""
    lines, coded = [], set()
    for sample in samples:
        lines += sample.lines
        # A row with a code is a row of the table, and so is one that tells its day or car without a word in front.
        # A row of one cell that tells two such things at once is a heading of those below it.
        texts = [(row_text(cells), sum(bool(cell.strip()) for cell in cells)) for cells in sample.below]
        coded |= {
            text
            for text, filled in texts
            if holds_code(text) or (not is_labelled(text) and (filled > 1 or len(fields(text)) < _FEWEST_TOLD))
        }
    wanted = {name for name in FIELDS if name.removesuffix("_2") in lacking}
    wanted |= {"vin"} if "vehicle" in lacking else set()
    lines = [line for line in lines if line]
    patterns = scan_patterns(lines, coded, wanted) or scan_patterns(lines, coded, wanted, begins=FIELDS)
    if "module" in lacking:
        others = [line for line in lines if line and not any(fits(pattern, line) for pattern in patterns)]
        found = module_pattern(others, [line for line in others if line in coded], is_module)
        patterns += [found] if found is not None else []
    return patterns


def _told(patterns: Sequence[str], lines: Sequence[str]) -> Around:
    """Return what some patterns take out of lines; the second part of a moment joined to the first."""
    around = Around()
    for line in lines:
        pattern = next((pattern for pattern in patterns if fits(pattern, line)), None)
        match = fits(pattern, line) if pattern else None
        for name, text in match.groupdict().items() if match else ():
            if text is None:
                continue
            cells = around.cells.setdefault(name.removesuffix("_2"), [])
            if name.endswith("_2") and cells:
                cells[-1] += " " + text.strip()
            else:
                cells.append(text.strip())
    return around


def _draft_names(
    draft: Draft, lacking: set[str], around: Around, named: Mapping[str, Sequence[str]], is_module: Modules
) -> None:
    """Take the car, and the day, out of the names of sheets or files where nothing else tells them."""
    for key, names in named.items():
        patterns = []
        if "vehicle" in lacking and "vehicle" not in around.cells and names:
            # Beside a vehicle number the name of one file may be anything; those of several are numbers of cars.
            found = car_in(names) if "vin" not in around.cells or len(names) > 1 else None
            if found is not None and ("vin" not in around.cells or "<vehicle>" in found):
                patterns.append(found)
        if "scanned_at" in lacking and "scanned_at" not in around.cells and names:
            day = date_in(names)
            if day is not None:
                patterns.append(day[0])
                around.form = day[1]
                ask_time_of_names(draft, names, day[0])
        modules = module_in(names, is_module) if "module" in lacking and "module" not in around.cells else None
        patterns += [modules] if modules is not None and not patterns else []
        if not patterns:
            continue
        pattern = patterns[0] if len(patterns) == 1 else both(patterns, names)
        if pattern is None:
            continue
        for one in patterns:
            around.cells |= _told([one], names).cells
        draft.line(f"{key} = {literal(pattern)}", "names")
        draft.reasons.append(f"names.{key}: no column tells it, and names like {names[0]!r} do")
