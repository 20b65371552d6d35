"""Ask for the columns of a table one by one, and find those whose cells hold several things at once."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from pipelines.reading.account import codes_in
from pipelines.reading.drafting.beside_codes import halves_of_vin
from pipelines.reading.drafting.code_lines import (
    MARKS,
    cut_alike,
    each_pattern,
    fits,
    groups_in,
    piece_pattern,
    pieces_by,
    pieces_of,
)
from pipelines.reading.drafting.draft import CONSTANT, NOTHING, Draft
from pipelines.reading.drafting.draft_values import NO_MODULE
from pipelines.reading.drafting.erase_words import only_erased
from pipelines.reading.drafting.guessing import (
    Guess,
    Source,
    coded_share,
    counted_stem,
    guess_columns,
    holds_code,
    says_nothing,
)
from pipelines.reading.drafting.words import ACTIONS, FITTED, Modules, folded, known_in, verb_of
from pipelines.reading.headers import missing_columns
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import BESIDE_A_CODE, BESIDE_A_PART, BY_CODE

_ENOUGH = 0.6

_NUMBER_OF_A_JOB = re.compile(r"[A-Za-z]{0,3}[-/]?\d{3,8}")
_EACH = ("=replace", "=repair", "=inspect")


@dataclass
class Around:
    """What stands around a table and counts for its rows.

    Attributes:
        cells: Column of ours to the texts that were found.
        nothing: Lines that say that a module stored no code, or did not answer.
        empty: JSON has empty lists of codes.
        form: How the names of files or sheets write the day; None: they tell none.
    """

    cells: dict[str, list[str]] = field(default_factory=dict)
    nothing: list[str] = field(default_factory=list)
    empty: bool = False
    form: str | None = None


@dataclass(frozen=True)
class Whole:
    """Columns whose cells hold a code and what belongs to it: the pattern, what it takes, and if again and again."""

    names: list[str]
    pattern: str
    pieces: dict[str, list[str]]
    each: bool = False


def _other_work(cell: str) -> bool:
    """Say whether a cell says of a part that something else was done to it than put in new."""
    if only_erased(folded(cell)):
        return False  # the reader takes it for that, and for no part
    words = [cell, verb_of(cell), verb_of(cell, at_end=True)]
    return any(word and known_in(ACTIONS, word) not in (None, "replace") for word in words)


class Entries:
    """Asks for the columns one by one."""

    def __init__(
        self, draft: Draft, sources: Mapping[str, Source], table: str, is_module: Modules, around: Around
    ) -> None:
        self.draft, self.sources, self.table, self.is_module = draft, sources, table, is_module
        self.around = around.cells
        self.told: set[str] = set()

    def choose(self, guesses: Sequence[Guess], whole: Whole | None, wide: Sequence[str]) -> dict[str, list[str]]:
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
        for column in (column.name for column in LAYOUTS[self.table].mappable):
            guess = found.get(column)
            if guess is None and column not in self.draft_keys(lacking):
                continue
            if whole is not None and column in whole.pieces:
                continue
            proposal, why, choices = self.proposed(column, guess, chosen, found)
            asks = f"Which column is {column} ({self.doc(column)})?"
            near = guess is not None and guess.near
            answer = self.draft.ask(f"columns.{column}", asks, proposal, why, choices, hangs=near)
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
            proposal, told = self.numbered(chosen, found) or self.car_and_day(chosen, found) or (None, why)
            return proposal, told, choices
        return None, why, choices

    def done_to(
        self, chosen: Mapping[str, list[str]], found: Mapping[str, Guess]
    ) -> tuple[str | None, str, list[str]] | None:
        """Propose that every part was put in new, where the heading of the parts says so; None: it does not."""
        name = self.draft.answers.get("columns.part", found["part"].source if "part" in found else "")
        if name not in self.sources or not any(word in folded(name) for word in FITTED):
            return None
        left = [source for key, source in self.sources.items() if key == name or [key] not in chosen.values()]
        if any(_other_work(cell) for source in left for cell in source.filled):
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

    def numbered(self, chosen: Mapping[str, list[str]], found: Mapping[str, Guess]) -> tuple[str, str] | None:
        """Return the column that numbers the visits: one number a car and day; None where not one column does."""
        taken = {guess.source for guess in found.values()}
        days = self.sources.get(found["done_at"].source if "done_at" in found else "")
        cars = self.sources.get((chosen.get("vehicle") or [""])[0])
        if days is None or cars is None or len(days.cells) != len(cars.cells):
            return None
        numbers = []
        for name, source in self.sources.items():
            rows = {*zip(source.cells, cars.cells, days.cells, strict=False)}
            whole = all(_NUMBER_OF_A_JOB.fullmatch(cell.strip()) for cell, *_ in rows)
            alike = len(source.cells) == len(days.cells) and len({cell for cell, *_ in rows}) == len(rows) > 1
            if name not in taken and whole and alike:
                numbers.append(name)
        if len(numbers) != 1:
            return None
        return numbers[0], f"{numbers[0]!r} has another number for each visit of a car"

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
        return next(found.doc for found in LAYOUTS[self.table].mappable if found.name == column)

    def several(self, column: str, guess: Guess, found: Mapping[str, Guess]) -> list[str]:
        """Return the columns that are alike: several for codes, and as many beside them."""
        stem = self.sources[guess.source].stem
        alike = [name for name, source in self.sources.items() if source.stem == stem]
        if column == "code":
            others = {other.source for other in found.values()} - {guess.source}
            # Fault C is one of them today too, when no car has a third fault.
            stem = counted_stem(guess.source)
            alike += [
                name
                for name, source in self.sources.items()
                if name not in others and not source.filled and counted_stem(name) == stem
            ]
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

    def one_column(self, guesses: Sequence[Guess]) -> Whole | None:
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

    def cut_cells(self, name: str, cells: Sequence[str], *, has_module: bool) -> Whole | None:
        """Cut the cells of a column into module, code, text and status."""
        cut_out = self.cut_by_pattern(name, ("status",) if has_module else ("module", "status"))
        if cut_out is not None:
            return cut_out
        for mark in MARKS:
            cut = cut_alike(cells, mark, self.is_module)
            # A wording that holds a further code is more than a wording.
            one_code = cut is not None and not any(map(holds_code, cut[1].get("text", ())))
            if cut is not None and one_code and (has_module or "module" in cut[1]):
                why = f"cells like {cells[0]!r} hold {', '.join(cut[1])}, {mark!r} between them"
                self.draft.reasons.append(f"code: {why}")
                return self.whole(name, *cut)
        return self.cut_by_pattern(name, () if has_module else ("module",))

    def whole(self, name: str, pattern: str, pieces: dict[str, list[str]], *, each: bool = False) -> Whole:
        """Return what cuts the cells of a column, and of those that are named alike and hold codes as it does."""
        alike = [
            other
            for other, source in self.sources.items()
            if source.stem == self.sources[name].stem and any(map(holds_code, source.filled))
        ]
        return Whole(alike if len(alike) > 1 and not each else [name], pattern, pieces, each=each)

    def cut_each(self, name: str, *, has_module: bool) -> Whole | None:
        """Cut cells that hold several codes, each with its module or its state."""
        cells = [cell for cell in self.sources[name].filled if not says_nothing(cell) or holds_code(cell)]
        pattern = each_pattern(cells, self.is_module, has_module=has_module)
        if pattern is None:
            return None
        self.draft.reasons.append(
            f"code: cells like {cells[0]!r} hold {', '.join(groups_in(pattern))}, again and again"
        )
        return self.whole(name, pattern, pieces_by(pattern, cells), each=True)

    def cut_by_pattern(self, name: str, must: Sequence[str]) -> Whole | None:
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
