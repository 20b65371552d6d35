"""Draft the columns of a mapping: which is which, how dates and numbers are written, and what words mean."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from analysis.vocabulary.codes import STATUS_WORDS
from pipelines.reading.account import codes_in
from pipelines.reading.drafting.beside_codes import (
    ask_beside,
    ask_odometer,
    halves_of_vin,
    typed,
    unnamed,
    without_names,
    worded,
)
from pipelines.reading.drafting.code_lines import (
    MARKS,
    ask_states,
    cut_alike,
    each_pattern,
    fits,
    groups_in,
    piece_pattern,
    pieces_by,
    pieces_of,
)
from pipelines.reading.drafting.crosses import crossed_by, crosses_in, is_no, is_yes, parts_of_code, states_beside
from pipelines.reading.drafting.date_guesses import CLOCK, CLOCK_OF_OTHER_MARKS, date_guess
from pipelines.reading.drafting.draft import CONSTANT, NOTHING, Draft, literal
from pipelines.reading.drafting.draft_values import (
    NO_MODULE,
    ask_form,
    draft_code_cells,
    draft_unit,
    draft_words,
    put_marks,
    put_whole_car,
)
from pipelines.reading.drafting.guessing import (
    VIN_INSIDE,
    Guess,
    Source,
    coded_share,
    guess_columns,
    holds_code,
    holds_vins,
    looks_like_code,
    says_nothing,
)
from pipelines.reading.drafting.numbers import NumberGuess, number_guess
from pipelines.reading.drafting.words import (
    ERASED,
    FITTED,
    HEADINGS,
    NO,
    NO_CODES,
    SILENT,
    STATUS,
    TIME_HEADINGS,
    YES,
    Modules,
    folded,
    known_in,
)
from pipelines.reading.headers import missing_columns
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import BESIDE_A_CODE, BESIDE_A_PART, BY_CODE

_ISO = re.compile(r"%Y-%m-%d(?:[ T]%H:%M(?::%S)?(?:\.%f)?(?:%z)?)?")
_ENOUGH = 0.6
_VIN_LENGTH = 17
_DIGITS_OF_A_CLOCK = re.compile(r"[0-2]\d[0-5]\d(?:[0-5]\d)?")
CODE_WORDS = {word for phrase in HEADINGS["scans"]["code"] for word in phrase.split()} | {"defauts", "fehlern"}
_EACH = ("=replace", "=repair", "=inspect")


@dataclass
class Around:
    """What stands around a table and counts for its rows.

    Attributes:
        cells: Column of ours to the texts that were found.
        nothing: Lines that say that a module stored no code, or did not answer.
    """

    cells: dict[str, list[str]] = field(default_factory=dict)
    nothing: list[str] = field(default_factory=list)


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
    sources = {name: Source(name, tuple(cells)) for name, cells in columns.items()}
    if table == "repairs":
        sources = _without_erased(draft, sources)
    joined: dict[str, list[str]] = {}
    if table == "scans":
        sources, joined = _with_whole_codes(sources)
    sources, dated = _with_whole_dates(sources)
    joined |= dated
    wide = _wide(sources, is_module) if table == "scans" else []
    states = states_beside(wide, sources, is_module)
    crossed = _draft_crossed(draft, sources, is_module) if table == "scans" and not wide else []
    crosses = _draft_crosses(draft, sources) if table == "scans" and not wide and not crossed else []
    apart = [*states.values(), *crossed, *crosses]
    guesses = guess_columns(
        [source for name, source in sources.items() if name not in wide and name not in apart], table, is_module
    )
    if crossed:
        guesses = [guess for guess in guesses if guess.column not in ("module", "code", *BESIDE_A_CODE)]
    if crosses:
        guesses = [guess for guess in guesses if guess.column != "status"]
    if wide:
        guesses = [guess for guess in guesses if guess.column not in ("module", "code", *BESIDE_A_CODE)]
    if dated:
        day = next(column for column in _dated(table) if column in ("scanned_at", "done_at", *_dated(table)))
        guesses = [guess for guess in guesses if guess.column != day and guess.source not in dated]
        guesses.append(Guess(day, next(iter(dated)), "its year, month and day stand in columns of their own"))
    if table == "scans" and draft.legend and not any(guess.column == "status" for guess in guesses):
        taken = {guess.source for guess in guesses}
        guesses += [
            Guess("status", name, "the file itself says what its letters mean")
            for name, source in sources.items()
            if name not in taken
            and len(source.filled) > 1
            and {cell.lower() for cell in source.filled} <= draft.legend.keys()
        ][:1]
    guesses = [guess for guess in guesses if guess.column not in around.cells]
    guesses = without_names(guesses, sources) if table == "scans" else guesses
    guesses = [*guesses, *(unnamed(guesses, sources) if table == "scans" else ())]
    entries = _Entries(draft, sources, table, is_module, around)
    entries.told = {"module", "code"} if wide or crossed else set()
    whole = entries.one_column(guesses) if table == "scans" and not wide and not crossed else None
    plain = table == "scans" and whole is None and not wide and not crossed
    guesses = [*guesses, *((*worded(guesses, sources), *typed(guesses, sources)) if plain else ())]
    guesses, named = _make_and_model(draft, guesses, sources) if table == "stock" else (guesses, {})
    entries.told |= {*named}
    chosen = entries.choose(guesses, whole, wide)
    clock = _draft_date(draft, chosen, sources, around)
    if whole is not None:
        chosen["code"] = whole.names
    if table == "scans" and not wide:
        apart = [
            *apart,
            *_draft_clean(draft, sources, [*apart, *(name for names in chosen.values() for name in names)], is_module),
        ]
    left = [name for name in sources if name not in wide and name not in apart]
    unused = _put_columns(draft, chosen, left, clock, _dated(table), joined)
    if table == "scans" and "odometer" not in around.cells:
        ask_odometer(draft, chosen, [sources[name] for name in unused])
    if table == "repairs":
        _ask_alike(draft, chosen, [sources[name] for name in unused], sources)
    if plain and not crosses:
        ask_beside(draft, chosen, [sources[name] for name in unused], sources)
    cells = {column: [cell for name in names for cell in sources[name].cells] for column, names in chosen.items()}
    cells |= around.cells
    _put_vehicle_pick(draft, [cell for name in chosen.get("vehicle", ()) for cell in sources[name].filled])
    _put_vin_pick(draft, [cell for name in chosen.get("vin", ()) for cell in sources[name].filled])
    if whole is not None:
        draft.line(f"each = {literal(whole.pattern)}", "codes") if whole.each else draft.line(
            f"code = {literal(whole.pattern)}", "pick"
        )
        cells |= whole.pieces
        if "status" not in cells:
            ask_states(draft, cells.get("text", []))
    _draft_numbers(draft, chosen, sources, table, around, has_unit="odometer_unit" in chosen)
    cells |= (
        {"status": [cell for name in (*states.values(), *crossed) for cell in sources[name].cells]}
        if states or crossed
        else {}
    )
    cells |= _put_wide_pick(draft, [cell for name in wide for cell in sources[name].filled], is_module)
    draft_words(draft, cells, is_module)
    for name in wide:
        module = module_of_heading(name, is_module) or name
        draft.put(name, module, f"{name!r} names a module, and codes stand below it", "wide")
        if name in states:
            draft.put(name, states[name], f"{states[name]!r} holds the states of its codes", "wide_states")
    if table == "scans":
        _draft_states(draft, chosen.get("code", []))
        held = [cell for name in (wide or chosen.get("code", [])) for cell in sources[name].cells if not crossed]
        several = whole is None or not whole.each
        told = [cell for cell in held if whole is None or says_nothing(cell) or (len(codes_in([cell])) > 1 and several)]
        told = [cell for cell in told if several or not holds_code(cell)]
        draft_code_cells(draft, [*told, *around.nothing, *_in_place_of_codes(sources, chosen)], wide=bool(wide))
        if not wide and not crossed and not _lost_words(sources, chosen):
            put_whole_car(draft)


def _with_whole_codes(sources: dict[str, Source]) -> tuple[dict[str, Source], dict[str, list[str]]]:
    """Put two columns that make whole codes together in one's place; return the columns, and what was joined."""
    parts = parts_of_code(sources)
    if not parts:
        return sources, {}
    name = json.dumps(parts, ensure_ascii=False)
    first, second = (sources[part].cells for part in parts)
    whole = Source(name, tuple(one.strip() + other.strip() for one, other in zip(first, second, strict=False)))
    made = {name if one == parts[0] else one: whole if one == parts[0] else source for one, source in sources.items()}
    del made[parts[1]]
    return made, {name: parts}


_YEARS = ("y", "yr", "year", "yyyy", "jahr", "annee", "an", "ano", "anno", "jaar", "rok", "ar")
_MONTHS = ("m", "mo", "month", "mm", "monat", "mois", "mes", "mese", "maand", "miesiac", "manad")
_DAYS = ("d", "day", "dd", "tag", "jour", "dia", "giorno", "dag", "dzien")
_HOURS = ("h", "hr", "hour", "hh", "stunde", "std", "heure", "hora", "ora", "uur", "godz", "godzina")
_MINUTES = ("min", "mins", "minute", "minuten", "mn", "minuto", "minuti", "minuut", "minuta")


def _with_whole_dates(sources: dict[str, Source]) -> tuple[dict[str, Source], dict[str, list[str]]]:
    """Put columns of year, month and day, and of hour and minute, in one's place; return the columns and what was."""
    found: list[str] = []
    for words, least, most in (
        (_YEARS, 1990, 2100),
        (_MONTHS, 1, 12),
        (_DAYS, 1, 31),
        (_HOURS, 0, 23),
        (_MINUTES, 0, 59),
    ):
        name = next((name for name, source in sources.items() if folded(name) in words and source.filled), None)
        fits_in = name is not None and all(
            cell.removesuffix(".0").isdecimal() and least <= int(cell.removesuffix(".0")) <= most
            for cell in sources[name].filled
        )
        if name is None or not fits_in:
            break
        found.append(name)
    if len(found) < 3:
        return sources, {}
    found = found if len(found) != 4 else found[:3]
    whole = json.dumps(found, ensure_ascii=False)
    rows = zip(*(sources[name].cells for name in found), strict=True)
    cells = tuple(" ".join(cell.strip() for cell in row if cell.strip()) for row in rows)
    kept = {name: source for name, source in sources.items() if name not in found}
    return {whole: Source(whole, cells), **kept}, {whole: found}


def _ask_alike(
    draft: Draft, chosen: Mapping[str, list[str]], unused: Sequence[Source], sources: Mapping[str, Source]
) -> None:
    """Ask about columns that are named like used ones and hold something: a second part of the same visit."""
    stems = {sources[name].stem: column for column, names in chosen.items() for name in names if name in sources}
    left = [source for source in unused if source.filled and source.stem in stems]
    if left:
        asks = f"{left[0].name!r} is named like the column for {stems[left[0].stem]}; may it be left out (yes)?"
        why = "what stands in it would be lost: give as many columns for each, as JSON has lists"
        draft.ask("columns.alike", asks, None, why, ("yes",))


def _draft_clean(draft: Draft, sources: Mapping[str, Source], taken: Sequence[str], is_module: Modules) -> list[str]:
    """Draft a column that lists modules, of which no code is told: they were read and are clean; return it."""
    for name, source in sources.items():
        if name in taken or not source.filled:
            continue
        for mark in (", ", ",", "; ", ";", " / ", "/", "|", "\n", " "):
            lists = [[piece.strip() for piece in cell.split(mark) if piece.strip()] for cell in source.filled]
            if any(len(pieces) > 1 for pieces in lists) and all(
                is_module(piece) for pieces in lists for piece in pieces
            ):
                why = f"cells like {source.filled[0]!r} list modules, and their codes stand elsewhere"
                asks = f"Are the modules in {name!r} those that were read and stored no code?"
                called = NO_CODES.search(name) or re.search(
                    r"\b(?:ok|clean|read|in ordnung|ohne|sin|senza|sans)\b", name, re.I
                )
                if draft.ask("codes.clean", asks, "yes" if called else None, why, ("yes", "no")) != "yes":
                    return []
                draft.put("clean", name, why, "codes")
                draft.put("modules_between", mark, table="codes")
                for piece in dict.fromkeys(piece for pieces in lists for piece in pieces):
                    module = is_module.means(piece)
                    if module is not None and module != piece:
                        draft.put(piece, module, table="values.module")
                return [name]
    return []


def _draft_crossed(draft: Draft, sources: Mapping[str, Source], is_module: Modules) -> list[str]:
    """Draft columns whose names hold a code each; return them."""
    found = crossed_by(sources, is_module)
    if found is None:
        return []
    pattern, names = found
    draft.line(f"crossed = {literal(pattern)}")
    draft.reasons.append(f"crossed: names like {names[0]!r} hold a code, and its state or a cross stands below")
    if "module" not in groups_in(pattern):
        answer = draft.ask("columns.module", f"Which module do codes like {names[0]!r} belong to?", None, NO_MODULE)
        draft.put("module", answer or BY_CODE, NO_MODULE, "constants")
    words = {cell.strip() for name in names for cell in sources[name].cells if cell.strip()}
    for word in sorted(words):
        if is_yes(word.lower()):
            draft.put(word, "", f"{word!r} is a mere cross", "values.status")
    no = sorted(word.lower() for word in words if is_no(word.lower()))
    if no:
        draft.put("no_codes", no, "such cells say that the code is not set", "codes")
    return names


def _draft_crosses(draft: Draft, sources: Mapping[str, Source]) -> list[str]:
    """Draft columns that tell states by crosses; return them."""
    found = crosses_in(sources)
    if found is None or any(known_in(STATUS, cell) for one in _of_states(sources) for cell in one.filled):
        return []
    for name, state in found.columns.items():
        why = f"the heading {name!r} says so, and crosses stand below it"
        draft.put(
            name,
            draft.ask(
                f"flags.columns.{name}", f"Which state has a code with a cross in {name!r}?", state, why, STATUS_WORDS
            )
            or state,
            why,
            "flags.columns",
        )
    draft.put("yes", found.yes, "a cell with it says that the state holds", "flags")
    if found.no:
        draft.put("no", found.no, table="flags")
    if len(found.columns) == 1:
        name = next(iter(found.columns))
        asks = f"Which state has a code without a cross in {name!r} (- for none known)?"
        otherwise = draft.ask("flags.otherwise", asks, None, "no other column tells it", STATUS_WORDS)
        if otherwise is not None:
            draft.put("otherwise", otherwise, table="flags")
    return [*found.columns]


def _of_states(sources: Mapping[str, Source]) -> list[Source]:
    return [
        source
        for source in sources.values()
        if any(h.split("|")[0] in HEADINGS["scans"]["status"] for h in source.headings)
    ]


_CAR_IN_WORDS = (
    r"^(?:(?<model_year>(?:19|20)[0-9]{2})\s+)?(?<make>[^\W\d_][^\s]*)\s+(?<model>[^\s(,]+)"
    r"(?:[\s,]+(?<engine>[0-9][.,][0-9][^()]*?))?(?:[\s,(]+(?<model_year_2>(?:19|20)[0-9]{2})\)?)?$"
)


def _make_and_model(
    draft: Draft, guesses: Sequence[Guess], sources: Mapping[str, Source]
) -> tuple[list[Guess], dict[str, str]]:
    """Draft the column that holds make and model in one cell, where no columns do; return what it tells beside."""
    found = {guess.column: guess.source for guess in guesses}
    if {"make", "model"} <= found.keys():
        return [*guesses], {}
    taken = {source for column, source in found.items() if column not in ("make", "model", "engine", "model_year")}
    for name, source in sources.items():
        matches = [fits(_CAR_IN_WORDS, cell) for cell in source.filled]
        if name in taken or len(matches) < 2 or not all(matches):
            continue
        groups = [
            group for group in ("model_year", "make", "model", "engine") if group not in found or found[group] == name
        ]
        used = [group for group in groups if any(match and match[group] for match in matches)]
        if not {"make", "model"} <= {*used} or (len({match["make"] for match in matches if match}) == len(matches) > 5):
            continue
        asks = f"Does {name!r} hold make and model, like {source.filled[0]!r}?"
        why = "each cell has a word and another behind it, and no other column has the make"
        if draft.ask("pick.make", asks, "yes", why, ("yes", "no")) != "yes":
            continue
        pattern = _CAR_IN_WORDS.replace(
            r"(?:[\s,(]+(?<model_year_2>(?:19|20)[0-9]{2})\)?)?$", r"(?:[\s,(]+(?:19|20)[0-9]{2}\)?)?$"
        )
        for group in ("model_year", "engine"):
            if group not in used:
                pattern = pattern.replace(f"(?<{group}>", "(?:")
        draft.line(f"make = {literal(pattern)}", "pick")
        draft.reasons.append(f"make: cells like {source.filled[0]!r} hold {', '.join(used)}")
        kept = [guess for guess in guesses if guess.column not in used and guess.source != name]
        return [*kept, Guess("make", name, why)], dict.fromkeys(("model", *used), name)
    return [*guesses], {}


def _without_erased(draft: Draft, sources: dict[str, Source]) -> dict[str, Source]:
    """Take the column out that says whether codes were erased at a visit, where the user agrees that one does."""
    for name, source in sources.items():
        words = sorted({cell.strip().lower() for cell in source.filled})
        yes = [word for word in words if word in YES]
        named = any(heading in ERASED for heading in source.headings[0].split("|"))
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
    draft: Draft,
    chosen: Mapping[str, list[str]],
    names: Sequence[str],
    clock: str | None,
    dated: Sequence[str],
    joined: Mapping[str, list[str]],
) -> list[str]:
    """Write which columns are which; return those that are not used."""
    for column, found in chosen.items():
        both = [*found, clock] if clock and column in dated else found
        if any(name in joined for name in both):
            both = [part for name in both for part in joined.get(name, [name])]
            if column == "code":
                draft.put("columns", "one code", f"{' and '.join(both)} make whole codes together", "codes")
        draft.put(column, both[0] if len(both) == 1 else both, table="columns")
    unused = [name for name in names if name != clock and all(name not in found for found in chosen.values())]
    for name in unused:
        draft.line(f"# not used: {name!a}", "columns")
    return unused


def _dated(table: str) -> tuple[str, ...]:
    return tuple(column.name for column in LAYOUTS[table].columns if column.kind in ("datetime", "date", "day or time"))


@dataclass(frozen=True)
class _Whole:
    """Columns whose cells hold a code and what belongs to it: the pattern, what it takes, and if again and again."""

    names: list[str]
    pattern: str
    pieces: dict[str, list[str]]
    each: bool = False


class _Entries:
    """Asks for the columns one by one."""

    def __init__(
        self, draft: Draft, sources: Mapping[str, Source], table: str, is_module: Modules, around: Around
    ) -> None:
        self.draft, self.sources, self.table, self.is_module = draft, sources, table, is_module
        self.around = around.cells
        self.told: set[str] = set()

    def choose(self, guesses: Sequence[Guess], whole: _Whole | None, wide: Sequence[str]) -> dict[str, list[str]]:
        """Return each column of the table and the file's columns that make it."""
        found = {guess.column: guess for guess in guesses}
        if self.table == "scans" and not self.told and not {"code"} & {*found, *(whole.pieces if whole else ())}:
            # Without a code nothing is learned: where codes stand in the file, the column of them is asked for.
            # Nor may a file without one pass: every module in it would count as read and clean.
            coded = [name for name, source in self.sources.items() if any(map(holds_code, source.filled))]
            why = f"{', '.join(coded)} holds codes among other things, and not in a way that is known here"
            why = why if coded else f"no column holds whole codes; there are {', '.join(self.sources)}"[:400]
            asks = f"Which column is code ({self.doc('code')})?"
            self.draft.ask("columns.code", asks, None, why, coded or [*self.sources])
        lacking = missing_columns(
            [*found, *self.around, *(whole.pieces if whole else ()), *self.told],
            LAYOUTS[self.table],
        )
        chosen: dict[str, list[str]] = {}
        for column in (column.name for column in LAYOUTS[self.table].columns):
            guess = found.get(column)
            if guess is None and column not in self.draft_keys(lacking):
                continue
            if whole is not None and column in whole.pieces:
                continue
            proposal, why, choices = self.proposed(column, guess, chosen, found)
            asks = f"Which column is {column} ({self.doc(column)})?"
            answer = self.draft.ask(f"columns.{column}", asks, proposal, why, choices)
            if column == "module" and guess is None and answer is None:
                self.module_by_code()
            if answer is None or answer in self.sources.keys() - {*choices}:
                continue
            if answer.startswith(CONSTANT):
                self.draft.put(column, answer[1:], why if answer == proposal else "as answered", "constants")
                continue
            self.draft.reasons.append(f"{column}: {why}")
            chosen[column] = self.names_in(answer)
        return {column: [name for name in names if name in self.sources] for column, names in chosen.items()}

    def proposed(
        self, column: str, guess: Guess | None, chosen: Mapping[str, list[str]], found: Mapping[str, Guess]
    ) -> tuple[str | None, str, list[str]]:
        """Return which column of the file is proposed for one of ours, why, and which can be."""
        choices = [*self.sources]
        if column == "module":
            choices = [name for name in choices if name not in self.no_module]
        if guess is not None:
            names = self.several(column, guess, found)
            if len(names) > 1:
                return json.dumps(names, ensure_ascii=False), f"{guess.why}; several columns are alike", choices
            return guess.source, guess.why, choices
        why = f"no column looks like it; there are {', '.join(self.sources)}"[:400]
        if column == "module" and self.table == "scans":
            return None, f"{why}. {NO_MODULE}", choices
        if column == "action" and self.table == "repairs":
            return self.done_to(chosen, found) or (None, why, [*choices, *_EACH])
        if column == "job" and self.table == "repairs":
            proposal, told = self.car_and_day(chosen, found) or (None, why)
            return proposal, told, choices
        return None, why, choices

    def done_to(
        self, chosen: Mapping[str, list[str]], found: Mapping[str, Guess]
    ) -> tuple[str | None, str, list[str]] | None:
        """Propose that every part was put in new, where the heading of the parts says so; None: it does not."""
        name = self.draft.answers.get("columns.part", found["part"].source if "part" in found else "")
        if name not in self.sources or not any(word in folded(name) for word in FITTED):
            return None
        why = f"no column says what was done, and {name!r} says that the parts were put in new"
        return f"{CONSTANT}replace", why, [*self.sources, *_EACH]

    def module_by_code(self) -> None:
        """Let each code tell its module, where it was answered that nothing else does."""
        if self.table == "scans" and self.draft.answers.get("columns.module") == NOTHING:
            self.draft.put("module", BY_CODE, NO_MODULE, "constants")

    @cached_property
    def no_module(self) -> list[str]:
        """The columns that hold makes, models or years of cars: none of them names a control unit."""
        cars = guess_columns([*self.sources.values()], "stock", self.is_module)
        return [guess.source for guess in cars if guess.column in ("make", "model", "model_year")]

    def car_and_day(self, chosen: Mapping[str, list[str]], found: Mapping[str, Guess]) -> tuple[str, str] | None:
        """Return the columns of car and day, as JSON has a list: together they name a visit; None without both."""
        day = self.draft.answers.get("columns.done_at", found["done_at"].source if "done_at" in found else "")
        names = [*chosen.get("vehicle", ()), day]
        if len(names) < 2 or any(name not in self.sources for name in names):
            return None
        why = "no column has job numbers: what was done to one car on one day counts as one job"
        return json.dumps(names, ensure_ascii=False), why

    def names_in(self, answer: str) -> list[str]:
        """Return the columns that an answer names: one, or a list as JSON has it."""
        if answer in self.sources or not answer.startswith("["):
            return [answer]
        try:
            return [str(name) for name in json.loads(answer)]
        except ValueError:
            return [answer]

    def draft_keys(self, lacking: Sequence[str]) -> list[str]:
        """Return the columns that have to be asked for: those required and not found; of two that can be, the first."""
        return [name.split(" or ")[0] for name in lacking] + [
            key.removeprefix("columns.") for key in self.draft.answers if key.startswith("columns.")
        ]

    def doc(self, column: str) -> str:
        """Return what a column of the table means."""
        return next(found.doc for found in LAYOUTS[self.table].columns if found.name == column)

    def several(self, column: str, guess: Guess, found: Mapping[str, Guess]) -> list[str]:
        """Return the columns that are alike: several for codes, and as many beside them."""
        stem = self.sources[guess.source].stem
        alike = [name for name, source in self.sources.items() if source.stem == stem]
        if column == "code":
            others = {other.source for other in found.values()} - {guess.source}
            return [
                name
                for name, source in self.sources.items()
                if name in alike or (name not in others and source.filled and coded_share(source.filled) >= _ENOUGH)
            ]
        if self.table == "repairs" and column in ("part", *BESIDE_A_PART):
            parts = [
                name
                for name, source in self.sources.items()
                if "part" in found and source.stem == self.sources[found["part"].source].stem
            ]
            return alike if len(alike) == len(parts) > 1 else [guess.source]
        if column == "vin":
            return halves_of_vin(guess.source, self.sources) or [guess.source]
        codes = self.several("code", found["code"], found) if column in BESIDE_A_CODE and "code" in found else []
        return alike if len(alike) == len(codes) > 1 else [guess.source]

    def one_column(self, guesses: Sequence[Guess]) -> _Whole | None:
        """Find a column that holds module, code, text and status in one cell, or several that are alike."""
        has_module = "module" in self.around or any(guess.column == "module" for guess in guesses)
        code = next((guess for guess in guesses if guess.column == "code"), None)
        if code is not None:
            has_status = any(guess.column == "status" for guess in guesses)
            found = None if has_status else self.cut_by_pattern(code.source, ("status",))
            return found if found is None or "module" in found.pieces or has_module else None
        for name, source in self.sources.items():
            cells = [cell for cell in source.filled if not says_nothing(cell) or holds_code(cell)]
            if not cells or sum(map(holds_code, cells)) < _ENOUGH * len(cells):
                continue
            found = self.cut_cells(name, cells, has_module=has_module) or self.cut_each(name, has_module=has_module)
            if found is not None:
                return found
        return None

    def cut_cells(self, name: str, cells: Sequence[str], *, has_module: bool) -> _Whole | None:
        """Cut the cells of a column into module, code, text and status."""
        cut_out = self.cut_by_pattern(name, ("status",) if has_module else ("module", "status"))
        if cut_out is not None:
            return cut_out
        for mark in MARKS:
            cut = cut_alike(cells, mark, self.is_module)
            if cut is not None and (has_module or "module" in cut[1]):
                why = f"cells like {cells[0]!r} hold {', '.join(cut[1])}, {mark!r} between them"
                self.draft.reasons.append(f"code: {why}")
                return self.whole(name, *cut)
        return self.cut_by_pattern(name, () if has_module else ("module",))

    def whole(self, name: str, pattern: str, pieces: dict[str, list[str]], *, each: bool = False) -> _Whole:
        """Return what cuts the cells of a column, and of those that are named alike and hold codes as it does."""
        alike = [
            other
            for other, source in self.sources.items()
            if source.stem == self.sources[name].stem and any(map(holds_code, source.filled))
        ]
        return _Whole(alike if len(alike) > 1 and not each else [name], pattern, pieces, each=each)

    def cut_each(self, name: str, *, has_module: bool) -> _Whole | None:
        """Cut cells that hold several codes, each with its module or its state."""
        cells = [cell for cell in self.sources[name].filled if not says_nothing(cell) or holds_code(cell)]
        pattern = each_pattern(cells, self.is_module, has_module=has_module)
        if pattern is None:
            return None
        self.draft.reasons.append(
            f"code: cells like {cells[0]!r} hold {', '.join(groups_in(pattern))}, again and again"
        )
        return self.whole(name, pattern, pieces_by(pattern, cells), each=True)

    def cut_by_pattern(self, name: str, must: Sequence[str]) -> _Whole | None:
        """Cut the cells of a column as lines of text are cut, where that finds some pieces and loses no cell."""
        cells = [cell for cell in self.sources[name].filled if not says_nothing(cell) or holds_code(cell)]
        pieces = pieces_of(cells) if any(len(codes_in([cell])) > 1 for cell in cells) else cells
        if pieces is None:
            return None
        cells = pieces
        pattern = piece_pattern(cells, self.is_module)
        matches = [match for cell in cells if (match := fits(pattern, cell))]
        groups = groups_in(pattern)
        if len(matches) < len(cells) or not {*must} <= {*groups}:
            return None
        self.draft.reasons.append(f"code: cells like {cells[0]!r} hold {', '.join(groups)}")
        return self.whole(name, pattern, {group: [match[group] for match in matches] for group in groups})


def _put_vin_pick(draft: Draft, cells: Sequence[str]) -> None:
    """Draft what takes the vehicle number out of cells that hold other words too."""
    if not all(len(cell) == _VIN_LENGTH for cell in cells) and holds_vins(cells):
        draft.line(f"vin = {literal(VIN_INSIDE)}", "pick")
        draft.reasons.append(f"vin: it stands inside cells like {cells[0]!r}")


_CARS_INSIDE = (
    r"[(\[]\s*([^()\[\]]*[0-9][^()\[\]]*?)\s*[)\]]\s*$",
    r"^\s*([A-Z]{1,4}-?[0-9]{2,6})(?:\s*[,/–-]\s*|\s+)[^\W\d_]{2}",
)


def _put_vehicle_pick(draft: Draft, cells: Sequence[str]) -> None:
    """Draft what takes the car's number out of cells with make and model beside it."""
    for pattern in _CARS_INSIDE:
        found = [fits(pattern, cell) for cell in cells]
        if len(found) > 1 and all(found) and len({match[1] for match in found if match}) == len({*cells}):
            draft.line(f"vehicle = {literal(pattern)}", "pick")
            draft.reasons.append(f"vehicle: it stands inside cells like {cells[0]!r}")
            return


def _put_wide_pick(draft: Draft, cells: Sequence[str], is_module: Modules) -> dict[str, list[str]]:
    """Draft what takes code and state out of the cells of columns that are modules; return what it takes."""
    coded = [cell for cell in dict.fromkeys(cells) if holds_code(cell) or not says_nothing(cell)]
    pieces = pieces_of(coded) if coded else None
    pattern = piece_pattern(pieces, is_module) if pieces else ""
    if not pieces or "status" not in groups_in(pattern):
        return {}
    matches = [match for piece in pieces if (match := fits(pattern, piece))]
    if len(matches) < len(pieces):
        return {}
    draft.line(f"code = {literal(pattern)}", "pick")
    draft.reasons.append(f"code: cells like {pieces[0]!r} hold {', '.join(groups_in(pattern))}")
    return {name: [match[name] or "" for match in matches] for name in groups_in(pattern) if name != "code"}


def _in_place_of_codes(sources: Mapping[str, Source], chosen: Mapping[str, list[str]]) -> list[str]:
    """Return the words beside blank codes that say that there is none, or no answer: as wording, or as state."""
    codes = [sources[name].cells for name in chosen.get("code", ()) if name in sources]
    found = []
    for column in ("text", "status"):
        for name in chosen.get(column, ()):
            cells = sources[name].cells
            if codes and all(len(cells) == len(one) for one in codes):
                found += [
                    cell.strip()
                    for cell, *beside in zip(cells, *codes, strict=True)
                    if cell.strip()
                    and (NO_CODES.search(cell) or SILENT.search(cell))
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


def _wide(sources: Mapping[str, Source], is_module: Modules) -> list[str]:
    """Return the columns that are named as modules, where codes stand in two or more of them."""
    named = [name for name in sources if module_of_heading(name, is_module) is not None]
    if sum(any(map(looks_like_code, sources[name].filled)) for name in named) < 2:
        return []
    return [name for name, source in sources.items() if name in named or any(map(_tells_of_codes, source.filled))]


def module_of_heading(heading: str, is_module: Modules) -> str | None:
    """Return the module that a heading names, alone or beside a word for codes: ``Engine codes``."""
    if folded(heading) in HEADINGS["scans"]["vehicle"]:
        return None  # a column of cars, though the whole car is a name, too
    if is_module(heading):
        return is_module.means(heading)
    words = [word for word in re.split(r"[\s:./_-]+", heading) if word]
    rest = [word for word in words if folded(word) not in CODE_WORDS]
    bare = " ".join(rest)
    return is_module.means(bare) if rest and len(rest) < len(words) and is_module(bare) else None


def _tells_of_codes(cell: str) -> bool:
    return looks_like_code(cell) or (says_nothing(cell) and len(cell) < 30)


def _draft_states(draft: Draft, names: Sequence[str]) -> None:
    """Draft the state of the codes of each of several columns, where their headings tell it; ask where they may."""
    if len(names) < 2:
        return
    stems = {re.sub(r"\d+", "", folded(name)).strip() for name in names}
    if len(stems) < 2:
        return
    for name in names:
        bare = " ".join(word for word in folded(name).split() if word not in CODE_WORDS)
        means = known_in(STATUS, bare) if bare else None
        why = (
            f"the heading {name!r} says so" if means else f"{name!r} holds codes, and its heading may say of what kind"
        )
        asks = f"Which state have the codes in {name!r} (- for none)?"
        state = draft.ask(f"states.{name}", asks, means, why, STATUS_WORDS)
        if state is not None:
            draft.put(name, state, table="states")


def _draft_date(
    draft: Draft, chosen: Mapping[str, list[str]], sources: Mapping[str, Source], around: Around
) -> str | None:
    """Draft the form of dates; return the column with the time of day where it stands apart."""
    names = [name for column, found in chosen.items() if column in _DATED for name in found[:1]]
    cells = [cell for name in names for cell in sources[name].cells]
    cells += [cell for column, told in around.cells.items() if column in _DATED for cell in told]
    if not cells:
        return None
    guess = date_guess(cells, serial=True)
    taken = {name for found in chosen.values() for name in found}
    clock = next((name for name, source in sources.items() if name not in taken and _is_clock(source)), None)
    form = ask_form(draft, guess, cells)
    if form is None:
        return None
    if clock is None or guess.timed or "scanned_at" not in chosen:
        clock = None
    else:
        form += _clock_form(sources[clock].filled)
    if not _ISO.fullmatch(form):
        draft.put("date_formats", [form])
    if "scanned_at" in chosen and clock is None and not guess.timed:
        left = [one for name, one in sources.items() if name not in taken and one.filled]
        lost = next((one.name for one in left if _called_time(one)), None)
        if lost is not None:
            shown = sources[lost].filled[0]
            why = f"nothing else tells the time of day, and cells like {shown!r} have no form that is known here"
            draft.ask("columns.time", f"{lost!r} may hold the time of day; is it left out (yes)?", None, why, ("yes",))
        draft.reasons.append("date_formats: no time of day was found; scans of one day and car count as one")
    return clock


_DATED = {name for table in LAYOUTS for name in _dated(table)}


def _is_clock(source: Source) -> bool:
    if _called_time(source) and source.filled and all(map(CLOCK_OF_OTHER_MARKS.fullmatch, source.filled)):
        return len({*map(_mark_of_clock, source.filled)}) == 1
    if _called_time(source) and source.filled and all(map(_DIGITS_OF_A_CLOCK.fullmatch, source.filled)):
        return len({*map(len, source.filled)}) == 1
    return (
        bool(source.filled)
        and all(map(CLOCK.fullmatch, source.filled))
        and (_called_time(source) or len(source.filled) > 1)
    )


def _called_time(source: Source) -> bool:
    return any(heading.split("|")[0] in TIME_HEADINGS for heading in source.headings[:1])


def _mark_of_clock(cell: str) -> tuple[str, int]:
    marks = re.findall(r"[.h:]", cell)
    return (marks[0] if marks else "", len(marks))


def _clock_form(cells: Sequence[str]) -> str:
    if all(map(CLOCK_OF_OTHER_MARKS.fullmatch, cells)):
        mark, count = _mark_of_clock(cells[0])
        return f" %H{mark}%M" + (f"{mark}%S" if count > 1 else "")
    if not any(":" in cell for cell in cells):
        return " %H%M%S" if len(cells[0]) == len("235959") else " %H%M"
    half = any(re.search("[AaPp][Mm]", cell) for cell in cells)
    seconds = any(cell.count(":") > 1 for cell in cells)
    space = any(" " in cell for cell in cells)
    return (" %I:%M" if half else " %H:%M") + (":%S" if seconds else "") + ((" %p" if space else "%p") if half else "")


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
    kinds = {column.name: column.kind for column in LAYOUTS[table].columns}
    found: dict[str, NumberGuess] = {}
    for unit in sorted({unit.lower() for unit in around.cells.get("odometer_unit", ())} - {"km", "mi"}):
        draft.put(unit, "mi", table="values.odometer_unit")
    if "odometer" in around.cells:
        found["odometer"] = number_guess(around.cells["odometer"], whole=True)
    for column, names in chosen.items():
        if kinds[column] not in ("number", "integer"):
            continue
        cells = [cell for name in names for cell in sources[name].cells]
        # Money has two digits behind its decimal mark, so three are thousands (common practice, no source).
        whole = column in ("odometer", "first_odometer", "model_year", "occurrences", "part_cost", "asking_price")
        found[column] = number_guess(cells, whole=whole)
        draft_unit(draft, column, names, cells, has_unit=has_unit)
    put_marks(draft, found)
