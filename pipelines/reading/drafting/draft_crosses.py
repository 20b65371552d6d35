"""Draft columns whose names hold what others have in cells: modules, codes, states, and lists of clean modules."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from analysis.vocabulary.codes import STATUS_WORDS
from pipelines.reading.drafting.code_lines import fits, groups_in
from pipelines.reading.drafting.crosses import crossed_by, crosses_in, is_no, is_yes
from pipelines.reading.drafting.draft import Draft, literal
from pipelines.reading.drafting.draft_values import NO_MODULE
from pipelines.reading.drafting.guessing import (
    CODE_WORDS,
    Source,
    counted_stem,
    looks_like_code,
    names_a_car,
    says_nothing,
)
from pipelines.reading.drafting.words import HEADINGS, STATUS, Modules, folded, known_in
from pipelines.reading.mapping.mapping_file import BY_CODE


def wide_columns(sources: Mapping[str, Source], is_module: Modules) -> list[str]:
    """Return the columns that are named as modules, where codes stand in two or more of them."""
    named = [name for name in sources if module_of_heading(name, is_module) is not None]
    if sum(any(map(looks_like_code, sources[name].filled)) for name in named) < 2:
        return []
    others = [name for name, source in sources.items() if any(map(_tells_of_codes, source.filled))]
    return [name for name in sources if name in named or (name in others and not names_a_car(name))]


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


def draft_states(draft: Draft, names: Sequence[str]) -> None:
    """Draft the state of the codes of several columns where their headings tell it; ask once where they may."""
    if len({re.sub(r"\d+", "", counted_stem(name)).strip() for name in names}) < 2:
        return
    open_ones = []
    for name in names:
        bare = " ".join(word for word in folded(name).split() if word not in CODE_WORDS)
        means = known_in(STATUS, bare) if bare else None
        if means is None and f"states.{name}" not in draft.answers:
            open_ones.append(name)
            continue
        why = f"the heading {name!r} says so" if means else "as answered"
        _put_state(draft, name, means, why)
    if not open_ones:
        return
    shown = " and ".join(map(repr, open_ones))
    why = f"{shown} hold codes, and a heading may say of what kind"
    choices = [NOT_KNOWN, *STATUS_WORDS, *([ONE_BY_ONE] if len(open_ones) > 1 else [])]
    asks = f"Which state have the codes in {shown}?"
    answer = draft.ask("states.all", asks, None, why, choices, means=_STATES_MEAN)
    if answer == ONE_BY_ONE:
        for name in open_ones:
            _put_state(draft, name, None, why)
    elif answer in STATUS_WORDS:
        for name in open_ones:
            draft.put(name, answer, table="states")


def _put_state(draft: Draft, name: str, means: str | None, why: str) -> None:
    asks = f"Which state have the codes in {name!r}?"
    state = draft.ask(f"states.{name}", asks, means, why, [NOT_KNOWN, *STATUS_WORDS], means=_STATES_MEAN)
    if state in STATUS_WORDS:
        draft.put(name, state, table="states")


NOT_KNOWN, ONE_BY_ONE = "not known", "one by one"
_STATES_MEAN = {NOT_KNOWN: "not known: the file does not say it", ONE_BY_ONE: "each another one: ask me of each"}


def draft_crossed(
    draft: Draft, sources: Mapping[str, Source], is_module: Modules
) -> tuple[list[str], dict[str, list[str]]]:
    """Draft columns whose names hold a code each, or a car and a day; return them, and what their names tell."""
    found = crossed_by(sources, is_module)
    if found is None:
        return [], {}
    pattern, names = found
    groups = groups_in(pattern)
    told = {group: [match[group] for name in names if (match := fits(pattern, name))] for group in groups}
    draft.line(f"crossed = {literal(pattern)}")
    what = "a code" if "code" in groups else "a car and a day"
    draft.reasons.append(f"crossed: names like {names[0]!r} hold {what}, and a state or a cross stands below")
    if "code" in groups and "module" not in groups:
        answer = draft.ask("columns.module", f"Which module do codes like {names[0]!r} belong to?", None, NO_MODULE)
        draft.put("module", answer or BY_CODE, NO_MODULE, "constants")
    words = {cell.strip() for name in names for cell in sources[name].cells if cell.strip()}
    for word in sorted(words):
        if is_yes(word.lower()):
            draft.put(word, "", f"{word!r} is a mere cross", "values.status")
    no = sorted(word.lower() for word in words if is_no(word.lower()))
    if no:
        draft.put("no_codes", no, "such cells say that the code is not set", "codes")
    return names, told


def draft_crosses(draft: Draft, sources: Mapping[str, Source]) -> list[str]:
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
        past = found.columns[name] == "active" and found.no
        why = f"{found.no[0]!r} says that the code is listed, and not there now" if past else "no other column tells it"
        otherwise = draft.ask("flags.otherwise", asks, "history" if past else None, why, STATUS_WORDS)
        if otherwise is not None:
            draft.put("otherwise", otherwise, table="flags")
    return [*found.columns]


def _of_states(sources: Mapping[str, Source]) -> list[Source]:
    return [
        source
        for source in sources.values()
        if any(h.split("|")[0] in HEADINGS["scans"]["status"] for h in source.headings)
    ]
