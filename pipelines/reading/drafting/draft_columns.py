"""Draft the columns of a mapping: which is which, how dates and numbers are written, and what words mean."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from pipelines.reading.account import codes_in
from pipelines.reading.drafting.beside_codes import (
    answered,
    ask_beside,
    ask_odometer,
    stated,
    typed,
    unnamed,
    without_counts_above,
    without_names,
    worded,
)
from pipelines.reading.drafting.code_lines import ask_states
from pipelines.reading.drafting.crosses import is_no, is_yes, states_beside
from pipelines.reading.drafting.draft import Draft, literal
from pipelines.reading.drafting.draft_crosses import (
    draft_crossed,
    draft_crosses,
    draft_states,
    module_of_heading,
    wide_columns,
)
from pipelines.reading.drafting.draft_dates import dated_columns, draft_date
from pipelines.reading.drafting.draft_labour import draft_labour
from pipelines.reading.drafting.draft_values import (
    draft_bytes,
    draft_code_cells,
    draft_unit,
    draft_words,
    put_marks,
    put_whole_car,
)
from pipelines.reading.drafting.entries import Around, Entries, Whole
from pipelines.reading.drafting.erase_words import erases
from pipelines.reading.drafting.erases import ask_erased_after, result_of
from pipelines.reading.drafting.guessing import (
    YEAR_OF_A_DATE,
    Guess,
    Source,
    dates_with_years,
    guess_columns,
    holds_code,
    numbers_each_row,
    says_nothing,
    sources_of,
)
from pipelines.reading.drafting.joined_columns import with_whole_codes, with_whole_dates, without_halves
from pipelines.reading.drafting.left_out import ask_costs, ask_prices, ask_sold, ask_unread, row_totals
from pipelines.reading.drafting.module_columns import draft_listed, lists_modules
from pipelines.reading.drafting.numbers import NumberGuess, number_guess
from pipelines.reading.drafting.picks import make_and_model, put_vehicle_pick, put_vin_pick, put_wide_pick
from pipelines.reading.drafting.units_in_cells import with_units_apart
from pipelines.reading.drafting.words import ERASED, IN_PLACE, NO, YES, Modules
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import BESIDE_A_CODE


def draft_columns(
    draft: Draft, columns: Mapping[str, Sequence[str]], table: str, is_module: Modules, around: Around
) -> None:
    """Draft everything that hangs on the columns.

    Args:
        draft: Gets the lines.
        columns: The file's columns, or JSON paths, with their cells.
        table: The table they belong to.
        is_module: Whether a text names a module.
        around: What is told outside of the columns.
    """
    sources = sources_of(with_units_apart(draft, columns, is_module, around) if table == "scans" else columns)
    if table == "repairs":
        sources = _without_erased(draft, sources)
    shape = _Shape(draft, sources, table, is_module)
    guesses = shape.guesses(around)
    entries = Entries(draft, shape.sources, table, is_module, around)
    entries.told = {"module", "code"} if shape.wide or shape.by_codes else {*shape.of_names}
    around.cells |= {name: shape.of_names[name] for name in ("scanned_at",) if name in shape.of_names}
    whole = entries.one_column(guesses) if shape.plain else None
    if shape.plain and whole is None:
        guesses = [*guesses, *worded(guesses, shape.sources), *typed(guesses, shape.sources)]
        guesses = [*guesses, *stated(guesses, shape.sources)]
    if table == "repairs":
        guesses = [*row_totals(guesses, shape.sources), *result_of(guesses, shape.sources)]
    if table == "stock":
        guesses = _named_by_plate(draft, guesses, shape.sources)
        guesses, named = make_and_model(draft, guesses, shape.sources)
        entries.told |= {*named}
    chosen = entries.choose(guesses, whole, shape.wide)
    clock = draft_date(draft, chosen, shape.sources, around)
    if whole is not None:
        chosen["code"] = whole.names
    _put_all(draft, shape, chosen, clock, around)
    cells = _cells(draft, shape, chosen, whole)
    _draft_numbers(draft, chosen, shape.sources, table, around, has_unit="odometer_unit" in chosen)
    cells |= around.cells | (whole.pieces if whole is not None else {}) | shape.states_told()
    cells |= put_wide_pick(draft, [cell for name in shape.wide for cell in shape.sources[name].filled], is_module)
    draft_words(draft, cells, is_module)
    shape.put_wide()
    if table == "repairs":
        ask_erased_after(draft, chosen, shape.sources)
    if table == "scans":
        _draft_codes(draft, shape, chosen, whole, around)


def _named_by_plate(draft: Draft, guesses: list[Guess], sources: Mapping[str, Source]) -> list[Guess]:
    """Let the plate be the car's number in a list of stock that has no other; another column may hold one."""
    if any(guess.column == "vehicle" for guess in guesses) or all(guess.column != "plate" for guess in guesses):
        return guesses
    taken = {guess.source for guess in guesses}
    numbers = [one for name, one in sources.items() if name not in taken and numbers_each_row(one)]
    if len(numbers) == 1:
        return [*guesses, Guess("vehicle", numbers[0].name, f"cells like {numbers[0].filled[0]!r}, each there once")]
    if numbers:
        shown = ", ".join(one.name for one in numbers)
        asks = f"Which column is vehicle (stock number)? {shown} number the rows, and the plate can name a car too."
        draft.ask("columns.vehicle", asks, None, "more than one column has a number of its own in every row")
    return [replace(guess, column="vehicle") if guess.column == "plate" else guess for guess in guesses]


_BYTES = 3
_MEASURED = (
    "scanned_at", "done_at", "bought_on", "sold_on", "odometer", "occurrences", "failure_type", "model_year",
    "asking_price", "part_cost", "labour_minutes", "check_minutes", "vin",
)  # fmt: skip
"""The columns of ours whose cells have a form: what is named as one of them and has another is asked about."""


class _Shape:
    """What the columns of a table are before any is guessed: joined, a module each, a code each, or with crosses."""

    def __init__(self, draft: Draft, sources: dict[str, Source], table: str, is_module: Modules) -> None:
        self.table, self._draft, self._is_module = table, draft, is_module
        scans = table == "scans"
        self.joined: dict[str, list[str]] = {}
        if scans:
            sources, repeated = without_halves(sources)
            if repeated is not None:
                draft.put("repeated", repeated, f"another column has the codes of {repeated!r} in full", "codes")
            sources, self.joined = with_whole_codes(sources)
        self.sources, self._dated = with_whole_dates(sources)
        self.joined |= self._dated
        self.wide = wide_columns(self.sources, is_module) if scans else []
        self._states = states_beside(self.wide, self.sources, is_module)
        crossed = draft_crossed(draft, self.sources, is_module) if scans and not self.wide else ([], {})
        self.crossed, self.of_names = crossed
        self.by_codes = bool(self.crossed) and "code" in self.of_names
        self.plain = scans and not self.wide and not self.crossed
        self.crosses = draft_crosses(draft, self.sources) if self.plain else []

    @property
    def apart(self) -> list[str]:
        """The columns that are told apart before any guess, those of modules aside."""
        return [*self._states.values(), *self.crossed, *self.crosses]

    def guesses(self, around: Around) -> list[Guess]:
        """Guess which of the other columns is which."""
        scans = self.table == "scans"
        left = [source for name, source in self.sources.items() if name not in self.wide and name not in self.apart]
        told = {*around.cells}
        told |= {"module", "code", *BESIDE_A_CODE} if self.wide or self.by_codes else set()
        told |= {*self.of_names, "status"} if self.crossed else set()
        told |= {"status"} if self.crosses else set()
        listing = [one.name for one in left if scans and lists_modules(one, self._is_module)]
        left = [source for source in left if source.name not in listing]
        guesses = guess_columns(left, self.table, self._is_module, told & {"status"})
        if self._dated:
            day = dated_columns(self.table)[0]
            told.add(day)
            made = Guess(day, next(iter(self._dated)), "its year, month and day stand in columns of their own")
            guesses = [made, *(guess for guess in guesses if guess.source not in self._dated and guess.column != day)]
            told.discard(day)
        bytes_of = [name for name, parts in self.joined.items() if len(parts) == _BYTES and name not in self._dated]
        if bytes_of and not any(guess.column == "code" for guess in guesses):
            guesses.append(Guess("code", bytes_of[0], "its three bytes stand in columns of their own"))
        guesses = [guess for guess in guesses if guess.column not in told]
        if self.table != "scans":
            return guesses
        if "status" not in told and not any(guess.column == "status" for guess in guesses):
            guesses += self._by_legend({guess.source for guess in guesses})
        guesses = without_names(without_counts_above(guesses), self.sources)
        guesses = [*guesses, *answered(guesses, self.sources)]
        return [*guesses, *unnamed(guesses, self.sources)]

    def _by_legend(self, taken: set[str]) -> list[Guess]:
        """Guess the column whose letters the file itself explains as states."""
        for name, source in self.sources.items():
            letters = {cell.lower() for cell in source.filled}
            if name not in taken and len(letters) > 1 and letters <= self._draft.legend.keys():
                return [Guess("status", name, "the file itself says what its letters mean")]
        return []

    def states_told(self) -> dict[str, list[str]]:
        """Return the states of codes that columns beside those of modules, or below codes, hold."""
        names = [*self._states.values(), *self.crossed]
        cells = [cell for name in names for cell in self.sources[name].cells]
        # A mere cross says no state.
        return (
            {"status": [cell for cell in cells if not (is_yes(cell.strip().lower()) or is_no(cell.strip().lower()))]}
            if names
            else {}
        )

    def put_wide(self) -> None:
        """Write which column holds the codes of which module, and their states."""
        for name in self.wide:
            module = module_of_heading(name, self._is_module) or name
            self._draft.put(name, module, f"{name!r} names a module, and codes stand below it", "wide")
            if name in self._states:
                beside = self._states[name]
                self._draft.put(name, beside, f"{beside!r} holds the states of its codes", "wide_states")

    def clean(self, chosen: Mapping[str, list[str]]) -> list[str]:
        """Draft the columns that list clean or silent modules; return them."""
        scans = self.table == "scans" and not self.wide
        return draft_listed(self._draft, self.sources, chosen, self.apart, self._is_module) if scans else []


def _put_all(draft: Draft, shape: _Shape, chosen: Mapping[str, list[str]], clock: str | None, around: Around) -> None:
    """Write which column is which, and ask about those that are left and may hold what is lacking."""
    apart = [*shape.apart, *shape.clean(chosen), *shape.wide]
    dated = dated_columns(shape.table)
    made = {
        column: [part for name in names for part in shape.joined.get(name, [name])]
        + ([clock] if clock and column in dated else [])
        for column, names in chosen.items()
    }
    if any(name in shape.joined for name in chosen.get("code", ())):
        draft.put("columns", "one code", f"{' and '.join(made['code'])} make whole codes together", "codes")
    left = [name for name in shape.sources if name not in apart and name != clock]
    unused = [shape.sources[name] for name in _put_columns(draft, made, chosen, left)]
    if shape.table == "scans" and "odometer" not in around.cells:
        ask_odometer(draft, chosen, unused, shape.sources)
    ask_unread(draft, shape.table, [name for name in _MEASURED if name not in {*chosen, *around.cells}], unused)
    if shape.table in ("stock", "parts"):
        ask_prices(draft, shape.table, chosen, unused)
    if shape.table == "stock":
        ask_sold(draft, chosen, unused)
    if shape.table == "repairs":
        _ask_alike(draft, chosen, unused, shape.sources)
        ask_costs(draft, chosen, unused)
    if (
        shape.plain
        and not shape.crosses
        and not any(line.startswith("each = ") for line in draft.tables.get("codes", ()))
    ):
        ask_beside(draft, chosen, unused, shape.sources)


def _cells(draft: Draft, shape: _Shape, chosen: Mapping[str, list[str]], whole: Whole | None) -> dict[str, list[str]]:
    """Return the cells of each column, and draft what takes one thing out of those that hold several."""
    sources = shape.sources
    put_vehicle_pick(draft, *_cars(chosen.get("vehicle", ()), sources))
    put_vin_pick(draft, [cell for name in chosen.get("vin", ()) for cell in sources[name].filled])
    cells = {column: [cell for name in names for cell in sources[name].cells] for column, names in chosen.items()}
    if whole is not None:
        key, place = ("each", "codes") if whole.each else ("code", "pick")
        draft.line(f"{key} = {literal(whole.pattern)}", place)
        if "status" not in {**cells, **whole.pieces}:
            ask_states(draft, whole.pieces.get("text", []))
    return cells


def _cars(names: Sequence[str], sources: Mapping[str, Source]) -> tuple[list[str], list[list[str]]]:
    """Return the cells that name cars, each once, and of each the other cells of its row."""
    found: dict[str, list[str]] = {}
    for name in names:
        own = sources[name].cells
        others = [one.cells for other, one in sources.items() if other != name and len(one.cells) == len(own)]
        for at, cell in enumerate(own):
            if cell.strip() and cell.strip() not in found:
                found[cell.strip()] = [column[at] for column in others]
    return [*found], [*found.values()]


def _draft_codes(
    draft: Draft, shape: _Shape, chosen: Mapping[str, list[str]], whole: Whole | None, around: Around
) -> None:
    """Draft what cells for codes hold: several, words in their place, nothing."""
    draft_states(draft, chosen.get("code", []))
    names = [] if shape.by_codes else shape.wide or chosen.get("code", [])
    held = [cell for name in names for cell in shape.sources[name].cells]
    if whole is not None:
        # What one pattern takes again and again needs no mark between.
        held = [cell for cell in held if says_nothing(cell) or len(codes_in([cell])) > 1]
        held = [cell for cell in held if not whole.each or not holds_code(cell)]
    draft_bytes(draft, held)
    in_place = _in_place_of_codes(shape.sources, chosen, draft.legend)
    draft_code_cells(draft, [*held, *around.nothing, *in_place], empty=around.empty)
    if not shape.wide and not shape.crossed and not _lost_words(shape.sources, chosen):
        put_whole_car(draft)


def _ask_alike(
    draft: Draft, chosen: Mapping[str, list[str]], unused: Sequence[Source], sources: Mapping[str, Source]
) -> None:
    """Ask about columns that are named like used ones and hold something: a second part of the same visit."""
    stems = {sources[name].stem: column for column, names in chosen.items() for name in names if name in sources}
    left = [source for source in unused if source.filled and source.stem in stems]
    if left:
        asks = f"{left[0].name!r} is named like the column for {stems[left[0].stem]}; may it be left out?"
        why = "what stands in it would be lost: give as many columns for each, as JSON has lists"
        draft.ask_leave("columns.alike", asks, why)


def _without_erased(draft: Draft, sources: dict[str, Source]) -> dict[str, Source]:
    """Take the column out that says whether codes were erased at a visit, where the user agrees that one does."""
    for name, source in sources.items():
        words = sorted({cell.strip().lower() for cell in source.filled})
        yes = [word for word in words if word in YES]
        named = any(heading in ERASED or erases(heading) for heading in source.headings[0].split("|"))
        if not named or not yes or not all(word in YES or word in NO for word in words):
            continue
        why = f"the heading {name!r} says so, and every cell is a yes or a no ({', '.join(words)})"
        asks = f"Does {name!r} say whether codes were erased at that visit?"
        if draft.ask("erased.column", asks, "yes", why, ("yes", "no")) != "yes":
            return sources
        draft.put("column", name, why, "erased")
        draft.put("yes", yes, table="erased")
        return {other: source for other, source in sources.items() if other != name}
    return sources


def _put_columns(
    draft: Draft, made: Mapping[str, list[str]], chosen: Mapping[str, list[str]], names: Sequence[str]
) -> list[str]:
    """Write which columns are which; return those that are not used."""
    for column, found in made.items():
        draft.put(column, found[0] if len(found) == 1 else found, table="columns")
    unused = [name for name in names if all(name not in found for found in chosen.values())]
    for name in unused:
        draft.line(f"# not used: {name!a}", "columns")
    return unused


def _in_place_of_codes(
    sources: Mapping[str, Source], chosen: Mapping[str, list[str]], marks: Mapping[str, str]
) -> list[str]:
    """Return the words beside blank codes that say that there is none, or no answer: as wording, or as state."""
    codes = [sources[name].cells for name in chosen.get("code", ()) if name in sources]
    found = []
    for column in ("text", "status"):
        for name in chosen.get(column, ()):
            cells = sources[name].cells
            if column == "status" and codes and any(len(cells) != len(one) for one in codes):
                found += [cell.strip() for cell in cells if says_nothing(cell)]  # paths of JSON, where null is no cell
            if codes and all(len(cells) == len(one) for one in codes):
                found += [
                    cell.strip()
                    for cell, *beside in zip(cells, *codes, strict=True)
                    if cell.strip()
                    and (says_nothing(cell) or marks.get(cell.strip().lower()) in IN_PLACE)
                    and not any(map(holds_code, (cell, *beside)))
                ]
    return found


def _lost_words(sources: Mapping[str, Source], chosen: Mapping[str, list[str]]) -> bool:
    """Say whether a row without a module and a code has words that may be a fault."""
    if not {"module", "code", "text"} <= chosen.keys():
        return False
    names = [name for column in ("module", "code") for name in chosen[column]]
    texts = sources[chosen["text"][0]].cells
    if any(len(sources[name].cells) != len(texts) for name in names):
        return False  # paths of JSON that walk through other lists
    rows = zip(texts, *(sources[name].cells for name in names), strict=True)
    return any(text.strip() and not says_nothing(text) and not any(map(str.strip, others)) for text, *others in rows)


def _draft_numbers(
    draft: Draft,
    chosen: Mapping[str, list[str]],
    sources: Mapping[str, Source],
    table: str,
    around: Around,
    *,
    has_unit: bool,
) -> None:
    """Draft decimal mark, mark between thousands, and units."""
    kinds = {column.name: column.kind for column in LAYOUTS[table].mappable}
    found: dict[str, NumberGuess] = {}
    for unit in sorted({unit.lower() for unit in around.cells.get("odometer_unit", ())} - {"km", "mi"}):
        draft.put(unit, "mi", table="values.odometer_unit")
    if "odometer" in around.cells:
        printed = "odometer_unit" in around.cells
        found["odometer"] = number_guess(around.cells["odometer"], whole=True, printed=printed)
    for column, names in chosen.items():
        if kinds[column] not in ("number", "integer"):
            continue
        cells = [cell for name in names for cell in sources[name].cells]
        filled = [cell.strip() for cell in cells if cell.strip()]
        if column == "model_year" and dates_with_years(filled) and not all(map(str.isdecimal, filled)):
            draft.put(column, f"^{YEAR_OF_A_DATE}$", f"the year in cells of {names[0]!r} counts", "pick")
            continue
        if column == "labour_minutes" and draft_labour(draft, names, filled, priced="part_cost" in chosen):
            continue
        # Money has two digits behind its decimal mark, so three are thousands (common practice, no source).
        whole = column in ("odometer", "first_odometer", "model_year", "occurrences", "part_cost", "asking_price")
        # No odometer shows thousandths, and no price of a car has them.
        printed = column == "asking_price" or (column == "odometer" and all(map(_LONG, filled)))
        found[column] = number_guess(cells, whole=whole, printed=printed)
        draft_unit(draft, column, names, cells, has_unit=has_unit)
    put_marks(draft, found)


_LONG = re.compile(r"[^.,]*\d{2,3}[.,]\d{3}[^.,\d]*|\D*\d{5,}\D*").fullmatch
