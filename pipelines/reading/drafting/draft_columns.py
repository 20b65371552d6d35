"""Draft the columns of a mapping: which is which, how dates and numbers are written, and what words mean."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from analysis.vocabulary.codes import STATUS_WORDS
from pipelines.reading.drafting.dates import CLOCK, DateGuess, date_guess
from pipelines.reading.drafting.draft import Draft, literal
from pipelines.reading.drafting.guessing import (
    Guess,
    IsModule,
    Source,
    coded_share,
    guess_columns,
    holds_code,
    looks_like_code,
    says_nothing,
)
from pipelines.reading.drafting.numbers import NumberGuess, number_guess, unit_behind
from pipelines.reading.drafting.words import (
    ACTIONS,
    MODULES,
    NO_CODES,
    NOT_READ,
    SILENT,
    STATUS,
    TIME_HEADINGS,
    folded,
    known_in,
    units_of,
)
from pipelines.reading.headers import missing_columns
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import BESIDE_A_CODE

_MOST_WORDS = 40
_SEPARATORS = ("\n", "|", ";", ",", "/", "+", " ")
_MARKS = (" - ", " | ", " – ", ": ", "; ", " / ", ", ", "|", ";", "\t", "  ")
_ISO = re.compile(r"%Y-%m-%d(?:[ T]%H:%M(?::%S)?(?:\.%f)?(?:%z)?)?")
_ENOUGH = 0.6
_DISTANCE = {"km": "km", "mi": "mi", "miles": "mi"}
CONSTANT = "="
"""An answer that begins so is what the column holds in every row."""


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
    draft: Draft, columns: Mapping[str, Sequence[str]], table: str, is_module: IsModule, around: Around
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
    wide = _wide(sources, is_module) if table == "scans" else []
    guesses = guess_columns([source for name, source in sources.items() if name not in wide], table, is_module)
    if wide:
        guesses = [guess for guess in guesses if guess.column not in ("module", "code", *BESIDE_A_CODE)]
    guesses = [guess for guess in guesses if guess.column not in around.cells]
    entries = _Entries(draft, sources, table, is_module, around)
    whole = entries.one_column(guesses) if table == "scans" and not wide else None
    chosen = entries.choose(guesses, whole, wide)
    clock = _draft_date(draft, chosen, sources, around)
    if whole is not None:
        chosen["code"] = [whole[0]]
    for column, names in chosen.items():
        both = [*names, clock] if clock and column in _dated(table) else names
        draft.put(column, both[0] if len(both) == 1 else both, table="columns")
    used = {*wide, clock, *(name for names in chosen.values() for name in names)}
    for name in columns:
        if name not in used:
            draft.line(f"# not used: {name!a}", "columns")
    cells = {column: [cell for name in names for cell in sources[name].cells] for column, names in chosen.items()}
    cells |= around.cells
    if whole is not None:
        draft.line(f"code = {literal(whole[1])}", "pick")
        cells |= whole[2]
    _draft_numbers(draft, chosen, sources, table, around, has_unit="odometer_unit" in chosen)
    draft_words(draft, cells, is_module)
    for name in wide:
        draft.put(name, name, f"{name!r} is a module's name, and codes stand below it", "wide")
    code_cells = cells.get("code", []) if not wide else [cell for name in wide for cell in sources[name].cells]
    if table == "scans" and whole is None:
        _draft_code_cells(draft, [*code_cells, *around.nothing], wide=bool(wide))


def _dated(table: str) -> tuple[str, ...]:
    return tuple(column.name for column in LAYOUTS[table].columns if column.kind in ("datetime", "date", "day or time"))


class _Entries:
    """Asks for the columns one by one."""

    def __init__(
        self, draft: Draft, sources: Mapping[str, Source], table: str, is_module: IsModule, around: Around
    ) -> None:
        self.draft, self.sources, self.table, self.is_module = draft, sources, table, is_module
        self.around = around.cells

    def choose(
        self, guesses: Sequence[Guess], whole: tuple[str, str, dict[str, list[str]]] | None, wide: Sequence[str]
    ) -> dict[str, list[str]]:
        """Return each column of the table and the file's columns that make it."""
        found = {guess.column: guess for guess in guesses}
        lacking = missing_columns(
            [*found, *self.around, *(whole[2] if whole else ()), *(("module", "code") if wide else ())], LAYOUTS[self.table]
        )
        chosen: dict[str, list[str]] = {}
        for column in (column.name for column in LAYOUTS[self.table].columns):
            guess = found.get(column)
            if guess is None and column not in self.draft_keys(lacking):
                continue
            if whole is not None and column in whole[2]:
                continue
            proposal = guess.source if guess else None
            why = guess.why if guess else f"no column looks like it; there are {', '.join(self.sources)}"[:400]
            names = self.several(column, guess, found) if guess else []
            if len(names) > 1:
                proposal, why = json.dumps(names, ensure_ascii=False), f"{why}; several columns are alike"
            asks = f"Which column is {column} ({self.doc(column)})?"
            answer = self.draft.ask(f"columns.{column}", asks, proposal, why, [*self.sources])
            if answer is None:
                continue
            if answer.startswith(CONSTANT):
                self.draft.put(column, answer[1:], "as answered", "constants")
                continue
            self.draft.reasons.append(f"{column}: {why}")
            chosen[column] = json.loads(answer) if answer.startswith("[") else [answer]
        return {column: [name for name in names if name in self.sources] for column, names in chosen.items()}

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
        codes = self.several("code", found["code"], found) if column in BESIDE_A_CODE and "code" in found else []
        return alike if len(alike) == len(codes) > 1 else [guess.source]

    def one_column(self, guesses: Sequence[Guess]) -> tuple[str, str, dict[str, list[str]]] | None:
        """Find a column that holds module, code, text and status in one cell: its name, the pattern, the pieces."""
        if any(guess.column == "code" for guess in guesses):
            return None
        has_module = "module" in self.around or any(guess.column == "module" for guess in guesses)
        for name, source in self.sources.items():
            cells = [cell for cell in source.filled if not says_nothing(cell) or holds_code(cell)]
            if not cells or sum(map(holds_code, cells)) < _ENOUGH * len(cells):
                continue
            for mark in _MARKS:
                cut = cut_alike(cells, mark, self.is_module)
                if cut is not None and (has_module or "module" in cut[1]):
                    why = f"cells like {cells[0]!r} hold {', '.join(cut[1])}, {mark!r} between them"
                    self.draft.reasons.append(f"code: {why}")
                    return name, cut[0], cut[1]
        return None


def cut_alike(cells: Sequence[str], mark: str, is_module: IsModule) -> tuple[str, dict[str, list[str]]] | None:
    """Return the pattern that cuts cells at a mark into module, code, text and status, and the pieces of each."""
    cut = [[piece.strip() for piece in cell.split(mark)] for cell in cells]
    fewest = min(map(len, cut))
    if fewest < 2:
        return None
    place = next((at for at in range(fewest) if all(looks_like_code(pieces[at]) for pieces in cut)), None)
    if place is None:
        return None
    roles: list[tuple[str, list[str]]] = []
    for at in range(place):
        pieces = [found[at] for found in cut]
        known = sum(map(is_module, pieces)) >= _ENOUGH * len(pieces)
        roles.append(("module" if known else "", pieces))
    roles.append(("code", [found[place] for found in cut]))
    behind = [found[place + 1 :] for found in cut]
    if all(behind):
        last = [found[-1] for found in behind]
        has_status = sum(known_in(STATUS, piece) is not None for piece in last) >= _ENOUGH * len(last)
        middle = [mark.join(found[: -1 if has_status else None]).strip() for found in behind]
        if any(middle):
            roles.append(("text", middle))
        if has_status:
            roles.append(("status", last))
    elif any(behind):
        roles.append(("text", [mark.join(found) for found in behind]))
    escaped = re.sub(r"([\\.^$|?*+()\[\]{}])", r"\\\1", mark.strip()) or r"\s"
    between = rf"\s*{escaped}\s*"
    parts = {
        "module": "(?<module>.+?)",
        "code": r"(?<code>\S+?)",
        "text": "(?<text>.*)",
        "status": "(?<status>[^{}]+?)",
        "": ".+?",
    }
    last_sign = re.sub(r"([\\\]\[^-])", r"\\\1", (mark.strip() or " ")[-1])
    parts["status"] = f"(?<status>[^{last_sign}]+?)"
    names = [role for role, _ in roles]
    if len(set(filter(None, names))) != len(list(filter(None, names))):
        return None
    return "^" + between.join(parts[role] for role in names) + "$", {role: pieces for role, pieces in roles if role}


def _wide(sources: Mapping[str, Source], is_module: IsModule) -> list[str]:
    """Return the columns that are named as modules, where codes stand in two or more of them."""
    named = [name for name in sources if is_module(name)]
    if sum(any(map(looks_like_code, sources[name].filled)) for name in named) < 2:
        return []
    return [name for name, source in sources.items() if name in named or any(map(_tells_of_codes, source.filled))]


def _tells_of_codes(cell: str) -> bool:
    return looks_like_code(cell) or (says_nothing(cell) and len(cell) < 30)


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
        draft.reasons.append("date_formats: no time of day was found; scans of one day and car count as one")
    return clock


_DATED = {name for table in LAYOUTS for name in _dated(table)}


def ask_form(draft: Draft, guess: DateGuess, cells: Sequence[str]) -> str | None:
    """Ask which form some dates have; propose none where the day may be the month."""
    shown = guess.example or next((cell for cell in cells if cell.strip()), "")
    if guess.form is None:
        return draft.ask(
            "date_formats",
            f"How are dates like {shown!r} written (%d.%m.%Y for instance)?",
            None,
            "no form that is known fits them",
        )
    if guess.other is None:
        why = f"it reads every date, {shown!r} for instance, and nothing else does"
        chosen = draft.ask("date_formats", f"How are dates like {shown!r} written?", guess.form, why)
    elif "." in guess.form and guess.form.startswith("%d"):
        why = f"{guess.other} fits as well, but dates with points are written day first (common practice)"
        chosen = draft.ask(
            "date_formats", f"How are dates like {shown!r} written?", guess.form, why, (guess.form, guess.other)
        )
    else:
        why = f"every day is below 13, so {guess.form} and {guess.other} both fit and mean other days"
        asks = f"Are dates like {shown!r} written {guess.form} or {guess.other}?"
        chosen = draft.ask("date_formats", asks, None, why, (guess.form, guess.other))
    draft.reasons.append(f"date_formats: {why}")
    return chosen


def _is_clock(source: Source) -> bool:
    return (
        bool(source.filled)
        and all(map(CLOCK.fullmatch, source.filled))
        and (any(heading.split("|")[0] in TIME_HEADINGS for heading in source.headings[:1]) or len(source.filled) > 1)
    )


def _clock_form(cells: Sequence[str]) -> str:
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
    if "odometer" in around.cells:
        found["odometer"] = number_guess(around.cells["odometer"], whole=True)
    for column, names in chosen.items():
        if kinds[column] not in ("number", "integer"):
            continue
        cells = [cell for name in names for cell in sources[name].cells]
        found[column] = number_guess(cells, whole=column in ("odometer", "first_odometer", "model_year", "occurrences"))
        _draft_unit(draft, column, names, cells, has_unit=has_unit)
    put_marks(draft, found)


def put_marks(draft: Draft, found: Mapping[str, NumberGuess]) -> None:
    """Write the marks of numbers, asked for where columns disagree or cannot tell."""
    told = [guess for guess in found.values() if guess.why]
    marks = {(guess.decimal, guess.thousands) for guess in told}
    unsure = next((guess.unsure for guess in found.values() if guess.unsure), "")
    decimals, thousands = {guess.decimal for guess in told}, {guess.thousands for guess in told} - {None}
    if len(decimals) > 1 or (unsure and not decimals):
        shown = unsure or ", ".join(guess.why for guess in told)
        asks = f"Is the mark in numbers like {shown!r} the decimal mark, or does it part thousands (answer . or ,)?"
        decimal = draft.ask("decimal", asks, None, "nothing in the file can tell", (".", ","))
        mark: str | None = None if decimal is None else "." if decimal == "," else ","
    elif marks:
        decimal, mark = decimals.pop(), next(iter(thousands), None)
        draft.reasons.append(f"decimal: {told[0].why}")
        if mark is None and unsure:
            mark = "." if decimal == "," else ","
    else:
        return
    if decimal == ",":
        draft.put("decimal", ",")
    if mark is not None:
        draft.put("thousands", mark)


def _draft_unit(draft: Draft, column: str, names: Sequence[str], cells: Sequence[str], *, has_unit: bool) -> None:
    units = unit_behind(cells)
    if column == "odometer":
        distances = sorted(units & _DISTANCE.keys())
        if distances:
            ways = "|".join(
                sorted({*distances, *(unit.upper() for unit in distances), *(unit.capitalize() for unit in distances)})
            )
            pattern = rf"^(?<odometer>[0-9][0-9.,’ ]*?)\s*(?:(?<odometer_unit>{ways})\.?)?$"
            draft.line(f"odometer = {literal(pattern)}", "pick")
            for unit in distances:
                if unit != _DISTANCE[unit]:
                    draft.put(unit, _DISTANCE[unit], table="values.odometer_unit")
            draft.reasons.append(f"odometer_unit: {', '.join(distances)} stands behind the number")
        if not has_unit:
            heading = next((_DISTANCE[unit] for name in names for unit in units_of(name) if unit in _DISTANCE), None)
            heading = heading or next(("km" for name in names if re.search(r"kilom|\bkm", folded(name))), None)
            if heading is not None and not distances:
                draft.put("odometer_unit", heading, f"the heading {names[0]!r} says so", "constants")
            elif not distances:
                draft.reasons.append(
                    "odometer_unit: nothing in the file says km or mi; the unit of the settings counts"
                )
    elif units:
        pattern = r"^[^0-9+-]*([+-]?[0-9][0-9.,’ ]*?)\s*[^0-9.,]*$"
        draft.line(f"{column} = {literal(pattern)}", "pick")


def draft_words(draft: Draft, cells: Mapping[str, Sequence[str]], is_module: IsModule) -> None:
    """Draft what words mean: states of codes, answers of modules, work done, names of modules."""
    for column, meanings, wanted in (("status", STATUS, STATUS_WORDS), ("action", ACTIONS, tuple(ACTIONS))):
        words = dict.fromkeys(cell.strip() for cell in cells.get(column, ()) if cell.strip())
        for word in list(words)[:_MOST_WORDS]:
            if word.lower() in wanted or (column == "status" and re.fullmatch("(?:0[xX])?[0-9A-Fa-f]{2}", word)):
                continue
            means = known_in(meanings, word)
            why = f"{word!r} is a usual word for it" if means else f"{word!r} is no word that is known here"
            asks = f"What does {word!r} mean as {column}?"
            answer = draft.ask(f"values.{column}.{word}", asks, means, why, wanted)
            if answer is not None or draft.answers.get(f"values.{column}.{word}"):
                draft.put(word, answer or "", table=f"values.{column}")
    states = {cell.strip().lower() for cell in cells.get("module_state", ()) if cell.strip()}
    yes_no = {
        "true": "",
        "yes": "",
        "1": "",
        "ok": "",
        "ja": "",
        "false": "silent",
        "no": "silent",
        "0": "silent",
        "nein": "silent",
    }
    if states and states <= yes_no.keys():
        for word in sorted(states):
            draft.put(word, yes_no[word], table="values.module_state")
    for name in dict.fromkeys(cell.strip() for cell in cells.get("module", ()) if cell.strip()):
        module = known_in(MODULES, name)
        if module is not None:
            draft.put(name, module, f"{name!r} is the {module}", "values.module")


def _draft_code_cells(draft: Draft, cells: Sequence[str], *, wide: bool) -> None:
    """Draft what stands between codes, and which words stand in their place."""
    mark = next((mark for mark in _SEPARATORS for cell in cells if _several(cell, mark)), None)
    if mark is not None:
        draft.put("separator", mark, f"several codes stand in one cell, {mark!r} between them", "codes")
    words = list(dict.fromkeys(cell.strip() for cell in cells if cell.strip() and not looks_like_code(cell)))
    for key, pattern in (("silent", SILENT), ("no_codes", NO_CODES)):
        found = sorted(word for word in words if pattern.search(word))
        words = [word for word in words if word not in found]
        if found:
            draft.put(key, found, f"words like {found[0]!r} stand in place of codes", "codes")
    skipped = sorted(word for word in words if wide and NOT_READ.search(word))
    for word in skipped:
        draft.put(word, "", f"{word!r}: the module was not read", "values.code")


def _several(cell: str, mark: str) -> bool:
    parts = [part.strip() for part in cell.split(mark)]
    return len(parts) > 1 and all(looks_like_code(part) and " " not in part for part in parts)
