"""Draft how the cells of a mapping are meant: how dates and numbers are written, in which unit, what words mean."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from analysis.vocabulary.codes import STATUS_WORDS
from pipelines.reading.account import codes_in
from pipelines.reading.drafting.code_lines import EACH, bare_codes, each_pattern, separator_of
from pipelines.reading.drafting.date_guesses import BETWEEN_FORMS, NO_DAY, DateGuess, forms_together
from pipelines.reading.drafting.draft import Draft, literal
from pipelines.reading.drafting.guessing import A_MARK, looks_like_code, says_nothing
from pipelines.reading.drafting.module_answers import draft_answers
from pipelines.reading.drafting.numbers import NumberGuess, unit_behind
from pipelines.reading.drafting.words import (
    ACTIONS,
    IN_PLACE,
    NO_CODES,
    NOT_READ,
    RESETS,
    SILENT,
    STATUS,
    Modules,
    folded,
    known_in,
    units_of,
    verb_of,
    verbs_of,
    works_in,
)
from pipelines.reading.mapping.free_work import LEFT_OUT, is_free, work_within
from pipelines.reading.mapping.mapped_json import NULL
from pipelines.reading.mapping.translating import THREE_BYTES, spelled_of_bytes

_MOST_WORDS = 40
NO_MODULE = (
    "Where the file does not say, the first letter of each code does: P stands for the engine's control unit (ECM), "
    "C for the brakes' (ABS), B for the body's (BCM); a U counts for the engine's"
)
_NOTHING = re.compile("[-–—/.]+")
_VERBS = (
    "replaced", "renewed", "changed", "swapped", "repaired", "fixed", "cleaned", "adjusted", "programmed", "coded",
    "checked", "inspected", "erased", "cleared", "reset", "ersetzt", "erneuert", "getauscht", "gewechselt", "repariert",
    "gereinigt", "eingestellt", "justiert", "codiert", "programmiert", "kontrolliert", "gelöscht",
)  # fmt: skip
_NO_PART = re.compile(
    r"(?i)n\.?/?a\.?|none|no part|kein teil|keines?|sans|aucune?|geen|ninguna|nessun[ao]|brak|[-–—/.]+"
)
_MILEAGE = re.compile(r"\bmile?age\b")
"""A heading that sounds of miles, and stands above kilometres as often."""
_DISTANCE = {"km": "km", "mi": "mi", "miles": "mi"}


def ask_form(draft: Draft, guess: DateGuess, cells: Sequence[str]) -> str | None:
    """Ask which form some dates have; propose none where the day may be the month."""
    shown = guess.example or next((cell for cell in cells if cell.strip()), "")
    several = forms_together(cells) if guess.form is None else None
    if several is not None:
        why = f"dates like {shown!r} are written in more than one way, and each of these reads one of them"
        return draft.ask("date_formats", f"How are dates like {shown!r} written?", several, why)
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


def put_forms(draft: Draft, form: str) -> None:
    """Write the form of dates, or several of them."""
    draft.put("date_formats", form.split(BETWEEN_FORMS))


def put_marks(draft: Draft, found: Mapping[str, NumberGuess]) -> None:
    """Write the marks of numbers, asked for where columns disagree or cannot tell."""
    told = [guess for guess in found.values() if guess.why]
    unsure = next((guess.unsure for guess in found.values() if guess.unsure), "")
    # A blank or an apostrophe between thousands leaves the decimal mark open.
    spaced = [guess for guess in told if guess.spaced]
    decimals = {guess.decimal for guess in told if not guess.spaced}
    decimals = decimals or {guess.decimal for guess in spaced if not unsure}
    thousands = {guess.thousands for guess in told} - {None}
    if len(decimals) > 1 or (unsure and not decimals):
        shown = unsure or ", ".join(guess.why for guess in told)
        asks = f"Which is the decimal mark of numbers like {shown!r}?"
        means = {mark: f"{mark} so that {shown} is {_number_by(mark, shown)}" for mark in (".", ",")} if unsure else {}
        decimal = draft.ask("decimal", asks, None, "nothing in the file can tell", (".", ","), means=means)
        mark: str | None = None if decimal is None else "." if decimal == "," else ","
    elif decimals:
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


def _number_by(mark: str, shown: str) -> str:
    """Return a number by one of two decimal marks, with a point for it: ``3,450`` is 3450 by the point, else 3.450."""
    return shown.replace("," if mark == "." else ".", "").replace(mark, ".")


def draft_unit(draft: Draft, column: str, names: Sequence[str], cells: Sequence[str], *, has_unit: bool) -> None:
    """Draft the unit of a column of numbers: behind them, in the heading, or none that the file tells."""
    units = unit_behind(cells) - {"h", "std"}
    if column == "odometer":
        distances = sorted(units & _DISTANCE.keys())
        if distances:
            ways = "|".join(
                sorted({*distances, *(unit.upper() for unit in distances), *(unit.capitalize() for unit in distances)})
            )
            pattern = rf"^(?<odometer>[0-9][0-9.,'’ \u00a0\u202f]*?)\s*(?:(?<odometer_unit>{ways})\.?)?$"
            draft.line(f"odometer = {literal(pattern)}", "pick")
            for unit in distances:
                if unit != _DISTANCE[unit]:
                    draft.put(unit, _DISTANCE[unit], table="values.odometer_unit")
            draft.reasons.append(f"odometer_unit: {', '.join(distances)} stands behind the number")
        if not has_unit and not distances:
            _draft_distance(draft, names)
    elif units:
        pattern = r"^[^0-9+-]*([+-]?[0-9](?:[0-9.,'’ \u00a0\u202f]*[0-9])?)(?:[.,][-–—]+)?\s*[^0-9.,]*\.?$"
        draft.line(f"{column} = {literal(pattern)}", "pick")


def _draft_distance(draft: Draft, names: Sequence[str]) -> None:
    """Draft the unit of an odometer by its heading; a mileage is asked about where the settings do not say it."""
    heading = next((_DISTANCE[unit] for name in names for unit in units_of(name) if unit in _DISTANCE), None)
    if any(re.search(r"\bmil\b|\bmiltal\b", folded(name)) for name in names):
        asks = f"Does {names[0]!r} count Scandinavian miles of 10 km (mil), or km, or miles (mi)?"
        why = "mil is the word for them; the numbers are turned into km"
        heading = draft.ask("constants.odometer_unit", asks, "mil", why, ("mil", "km", "mi")) or heading
    heading = heading or next(("km" for name in names if re.search(r"kilom|\bkm|km\b", folded(name))), None)
    if heading is None and any(_MILEAGE.search(folded(name)) for name in names):
        told = draft.odometer_unit
        why = "nothing in the file says it" if told is None else f"it is {told} by the settings"
        asks = f"Does {names[0]!r} count km or miles (mi)?"
        heading = draft.ask("constants.odometer_unit", asks, told, why, ("km", "mi"))
        if heading is not None:
            draft.put("odometer_unit", heading, why if heading == told else "as answered", "constants")
    elif heading is not None:
        draft.put("odometer_unit", heading, f"the heading {names[0]!r} says so", "constants")
    else:
        draft.reasons.append("odometer_unit: nothing in the file says km or mi; the unit of the settings counts")


def _draft_dashes(draft: Draft, cells: Mapping[str, Sequence[str]]) -> None:
    """Draft dashes that stand where there is nothing to say, and words where there is no part."""
    for word in sorted({cell.strip() for cell in cells.get("part", ()) if _NO_PART.fullmatch(cell.strip())}):
        draft.put(word, "", f"{word!r} stands where there is no part", "values.part")
    for column in _DASHED:
        nothing = NO_DAY if column in ("bought_on", "sold_on") else _NOTHING
        for word in sorted({cell.strip() for cell in cells.get(column, ()) if nothing.fullmatch(cell.strip())}):
            draft.put(word, "", f"{word!r} stands where there is nothing", f"values.{column}")


_DASHED = (
    "status", "action", "text", "bought_on", "sold_on", "done_at", "part_cost", "labour_minutes", "check_minutes",
    "asking_price", "odometer", "occurrences", "first_odometer", "model_year", "position", "supplier", "modifications",
    "failure_type", "also_called",
)  # fmt: skip
"""The columns in which a dash stands where there is nothing to say."""


def _draft_meanings(
    draft: Draft, column: str, wanted: Sequence[str], cells: Sequence[str], beside: Sequence[str] = ()
) -> None:
    """Draft what each word of a column means, by the file's own legend, else as is usual.

    Args:
        draft: Gets the lines.
        column: The column.
        wanted: What words can mean.
        cells: The column's.
        beside: Of each of them the code in its row.
    """
    meanings = STATUS if column == "status" else ACTIONS
    coded = {cell.strip() for cell, code in zip(cells, beside, strict=False) if codes_in([code])}
    for word in list(dict.fromkeys(cell.strip() for cell in cells if cell.strip()))[:_MOST_WORDS]:
        status = column == "status"
        byte = status and re.fullmatch("(?:0[xX])?[0-9A-Fa-f]{2}", word)
        if _NOTHING.fullmatch(word) or word.lower() in wanted or (byte and word.lower() not in draft.legend):
            continue
        if column == "action" and (folded(word) in RESETS or len(works_in(word)) > 1):
            continue  # the reader tells by the part, and gives each work its own row
        told = draft.legend.get(word.lower())
        if told in IN_PLACE:
            continue  # it stands in place of a code
        means = (told if told in wanted else None) or known_in(meanings, word)
        if status and means is None and SILENT.search(word):
            continue  # it stands in place of a code
        if status and means is None and word not in coded and NO_CODES.search(word) and not re.search(r"\d", word):
            draft.put(word, "", f"{word!r} says that there is no code", "values.status")
            continue
        why = f"{word!r} is a usual word for it" if means else f"{word!r} is no word that is known here"
        asks = f"What does {word!r} mean as {column}?"
        answer = draft.ask(f"values.{column}.{word}", asks, means, why, wanted)
        if answer is not None or draft.answers.get(f"values.{column}.{word}"):
            draft.put(word, answer or "", table=f"values.{column}")


def draft_words(draft: Draft, cells: Mapping[str, Sequence[str]], is_module: Modules) -> None:
    """Draft what words mean: states of codes, answers of modules, work done, names of modules."""
    _draft_erased(draft, cells)
    cells = _draft_free_work(draft, _draft_verbs(draft, _draft_bare_parts(draft, cells)))
    for column, wanted in (("status", STATUS_WORDS), ("action", tuple(ACTIONS))):
        codes = cells.get("code", ()) if column == "status" else ()
        beside = codes if len(codes) == len(cells.get(column, ())) else ()
        _draft_meanings(draft, column, wanted, cells.get(column, ()), beside)
    _draft_dashes(draft, cells)
    draft_answers(draft, cells.get("module_state", ()))
    for name in dict.fromkeys(cell.strip() for cell in cells.get("module", ()) if cell.strip()):
        module = is_module.means(name)
        if module is not None and module != name:
            draft.put(name, module, f"{name!r} is the {module}", "values.module")


_MEMORY = re.compile(
    r"(?i)(?:all |the )?(?:fault |trouble |error )?(?:codes?|memory|dtcs?|faults?)|fehler(?:speicher|codes?)?"
    r"|d[eé]fauts|codes? d[eé]fauts?|m[eé]moire(?: d[eé]fauts)?|(?:memoria )?(?:de )?aver[ií]as|c[oó]digos|errori"
    r"|codici|memoria errori|fouten|foutcodes|storingen|foutgeheugen|b[lł][eę]dy|pami[eę][cć] b[lł][eę]d[oó]w"
)


def _draft_erased(draft: Draft, cells: Mapping[str, Sequence[str]]) -> None:
    """Draft that what was erased is no part."""
    for word in dict.fromkeys(cell.strip() for cell in cells.get("part", ()) if _MEMORY.fullmatch(cell.strip())):
        draft.put(word, "", f"{word!r} is no part", "values.part")


def _draft_verbs(draft: Draft, cells: Mapping[str, Sequence[str]]) -> Mapping[str, Sequence[str]]:
    """Take what was done out of texts that begin or end with it, ``Replaced the coil``; return the cells without."""
    whole = [cell.strip() for cell in cells.get("action", ()) if cell.strip()]
    texts = [work for text in whole for work in works_in(text)]
    longer = [text for text in texts if known_in(ACTIONS, text) is None]
    several = next((text for text in texts if "\n" in text), None)
    if several is not None:
        asks = f"Cells like {several!r} say several things done; give each a row of its own, and draft again."
        draft.ask("values.action", asks, None, "a row is one thing done, to one part")
    if not longer:
        return cells
    found = verbs_of(texts)
    if found is None:
        return cells
    verbs, at_end = found
    place = "last" if at_end else "first"
    why = f"the {place} word of each text says it"
    asks = f"Does the {place} word of {longer[0]!r} say what was done?"
    if draft.ask("pick.action", asks, "yes", why, ("yes", "no")) != "yes":
        return cells
    # The next file may say what this one does not.
    words = {*_VERBS, *(verb.lower() for verb in verbs if verb)}
    ways = "|".join(map(re.escape, sorted(words, key=lambda word: (-len(word), word))))
    placed = "position" not in cells and any(re.search(r"\([^()]+\)\s*$", text) for text in longer) and not at_end
    rest = ("(?<part>.*?)" if "part" not in cells else ".*?") + (r"(?:\s*\((?<position>[^()]*)\))?" if placed else "")
    parted = r"[\s:,.-]+"
    pattern = f"(?:{rest}{parted})?(?<action>{ways})" if at_end else f"(?<action>{ways})(?:{parted}{rest})?"
    draft.line(f"action = {literal(f'(?is)^{pattern}$')}", "pick")
    draft.reasons.append(f"action: {why}")
    for word in sorted(words):
        means = known_in(ACTIONS, word)
        if means and means != word and folded(word) not in RESETS:
            draft.put(word, means, table="values.action")
    if "part" not in cells:
        named = [text.rpartition(" ")[::-2] if at_end else text.partition(" ")[::2] for text in texts]
        erased = (part.strip() for verb, part in named if known_in(ACTIONS, verb) == "erase")
        cells = {**cells, "part": [*erased]}
    _draft_erased(draft, cells)
    return {**cells, "action": ()}


def _draft_free_work(draft: Draft, cells: Mapping[str, Sequence[str]]) -> Mapping[str, Sequence[str]]:
    """Draft that what was done is read out of free words; ask once what all lines mean that say no work in them."""
    texts = cells.get("action", ())
    if not is_free([*texts]):
        return cells
    parts = cells.get("part", ())
    pairs = zip(texts, parts, strict=True) if len(parts) == len(texts) else ((text, "") for text in texts)
    said = [(text.strip(), part.strip()) for text, part in pairs if not known_in(ACTIONS, text)]
    rest = [text for text, part in said if part and text and work_within(text)[0] in (None, "erase")]
    answer: str | None = LEFT_OUT
    draft.reasons.append("other_work: the usual words (replaced, new, cleaned, checked) inside each text say the work")
    if rest:
        shown = ", ".join(repr(text) for text in dict.fromkeys(rest[:_SHOWN]))
        asks = f"What was done in the lines that name a part and do not say it, {shown} for instance?"
        why = f"{len(rest)} of {len(said)} lines have none of the usual words"
        answer = draft.ask("other_work", asks, None, why, _OTHER_WORK, means=_OTHER_MEANS)
    if answer is not None:
        draft.put("other_work", answer)
    return {**cells, "action": ()}


def _draft_bare_parts(draft: Draft, cells: Mapping[str, Sequence[str]]) -> Mapping[str, Sequence[str]]:
    """Ask once whether parts were replaced that a column of work names, mostly without a word for what was done."""
    texts = [cell.strip() for cell in cells.get("action", ()) if cell.strip()]
    bare = [text for text in texts if _names_a_part(text)]
    if "part" in cells or len(bare) < _FEWEST_BARE or len(bare) < _MOSTLY_BARE * len(texts):
        return cells
    shown = ", ".join(repr(text) for text in dict.fromkeys(bare[:_SHOWN]))
    asks = f"Lines name parts and do not say what was done, {shown} for instance: were they replaced?"
    why = f"{len(bare)} of {len(texts)} lines have none of the usual words for work, and look like names of parts"
    answer = draft.ask("other_work", asks, "replace", why, _OTHER_WORK, means=_OTHER_MEANS, hangs=True)
    draft.put("other_work", answer or LEFT_OUT, why)
    return {**cells, "action": ()}


def _names_a_part(text: str) -> bool:
    """Say whether a text is a few words without one for work: the name of a part, as far as its form tells."""
    words = re.findall(r"[^\W\d_]{2,}", text)
    works = any(known_in(ACTIONS, work) or folded(work) in RESETS or verb_of(work) for work in works_in(text))
    return 0 < len(words) <= _LONGEST_NAME and not works and work_within(text)[0] is None


_FEWEST_BARE, _MOSTLY_BARE, _LONGEST_NAME, _SHOWN = 3, 0.6, 6, 3
_OTHER_WORK = ("replace", "inspect", LEFT_OUT)
_OTHER_MEANS = {
    "replace": "the part was put in new",
    "inspect": "it was only looked at",
    LEFT_OUT: "these lines are left out",
}


def draft_bytes(draft: Draft, cells: Sequence[str]) -> None:
    """Draft what codes of six hex digits are: three bytes, where every third one can be.

    Makers have numbers of six digits of their own too; three codes whose last bytes are all failure types of SAE J2012
    are hardly such, nor fewer that are marked as hex.  Others are asked about.
    """
    told = {cell.strip() for cell in cells if cell.strip() and not NO_CODES.search(cell) and not SILENT.search(cell)}
    matches = [THREE_BYTES.fullmatch(cell) for cell in told]
    if not told or None in matches:
        return
    shown = min(told)
    marked = all(cell[:2].lower() == "0x" or len(cell) > len("03 01 0") for cell in told)
    kinds = [int(match[3], 16) for match in matches if match]
    known = all(any(first <= kind <= last for first, last in _FAILURES) for kind in kinds)
    sure = known and (marked or len(told) >= _FEWEST_CODES)
    why = "they are marked as hex" if marked else "the last two digits of each are a failure type"
    asks = f"Is {shown!r} the three bytes of {spelled_of_bytes(shown)}, or a number of the maker's own (as written)?"
    why = why if sure else "numbers of six digits may be either"
    form = draft.ask("codes.form", asks, "three bytes" if sure else None, why, ("three bytes", "as written"))
    if form == "three bytes":
        draft.put("form", form, why, "codes")


_FEWEST_CODES = 3
# The failure type bytes of SAE J2012 by their groups: general, electrical, signal, rate, parametric, system, actuator.
_FAILURES = (
    *((0x00, 0x09), (0x11, 0x1F), (0x21, 0x2F), (0x31, 0x3A), (0x41, 0x4B), (0x51, 0x5A), (0x61, 0x6F)),
    *((0x71, 0x7F), (0x81, 0x8F), (0x91, 0x9F)),
)


def put_whole_car(draft: Draft) -> None:
    """Draft what becomes of a car without any code, where a row or line says so and names no module."""
    why = "a row that names neither module nor code calls the units of the car's earlier scans in the file clean"
    draft.put("whole_car", "whole car", why, "codes")


_SAID = {"silent": SILENT, "not_read": NOT_READ, "no_codes": NO_CODES}


def _in_place(draft: Draft, cells: Sequence[str], *, empty: bool) -> dict[str, list[str]]:
    """Return the words that stand in place of codes, by what they say: keys of a mapping."""
    words = list(
        dict.fromkeys(
            cell.strip() for cell in cells if cell.strip() and not codes_in([cell]) and not looks_like_code(cell)
        )
    )
    # Beside words that say what is meant, a mere mark is a blank.
    marks = [word for word in words if A_MARK.fullmatch(word)] if any(map(says_nothing, words)) else []
    words = [word for word in words if word not in marks]
    found: dict[str, list[str]] = {"no_codes": marks} if marks else {}
    for word in words:
        key = next((key for key, pattern in _SAID.items() if pattern.search(word)), None)
        key = draft.legend[word.lower()] if draft.legend.get(word.lower()) in IN_PLACE else key
        if key is None and _SAYS_SOMETHING.fullmatch(word) and word != NULL:
            asks = f"What does {word!r} say of a module, in place of a code?"
            why = "it is no code and no word that is known here"
            answer = draft.ask(f"codes.{word}", asks, None, why, (*_PLACES,))
            key = _PLACES.get(answer or "")
        if key is not None:
            found.setdefault(key, []).append(word)
    if NULL in words:
        found.setdefault(_ask_null(draft, empty=empty), []).append(NULL)
    return found


def draft_code_cells(draft: Draft, cells: Sequence[str], *, empty: bool = False) -> None:
    """Draft what stands between codes, and which words stand in their place.

    Args:
        draft: Gets the lines.
        cells: Those for codes, and words beside blank ones that stand in their place.
        empty: JSON has empty lists of codes too.
    """
    mark = separator_of(cells)
    crowded = [cell for cell in cells if len(codes_in([cell])) > 1]
    each = any(line.startswith("each = ") for line in draft.tables.get("codes", ()))
    if crowded and mark is None and not each and each_pattern(crowded, lambda _: False, has_module=True) == EACH:
        draft.line(f"each = {literal(EACH)}", "codes")
        draft.reasons.append(f"codes.each: cells like {crowded[0]!r} hold codes with a sign or a word between them")
    elif crowded and not any(bare_codes(cell, mark) for cell in cells if mark is not None):
        why = f"each piece of cells like {crowded[0]!r} begins with a code" if mark else "no mark parts them all"
        asks = f"What stands between the codes of cells like {crowded[0]!r}?"
        mark = draft.ask("codes.separator", asks, mark, why)
    if mark is not None:
        draft.put("separator", mark, f"several codes stand in one cell, {mark!r} between them", "codes")
    found = _in_place(draft, cells, empty=empty)
    for key in _SAID:
        if key in found:
            shown = sorted(found[key])
            draft.put(key, shown, f"words like {shown[0]!r} stand in place of codes", "codes")


_PLACES = {"no codes": "no_codes", "no answer": "silent", "not read": "not_read"}
_SAYS_SOMETHING = re.compile(r"(?=.*[^\W\d_])\D{1,40}")


def _ask_null(draft: Draft, *, empty: bool) -> str:
    """Ask what null says in place of a list of codes; it is no answer where other modules have an empty list."""
    why = "other modules have an empty list" if empty else "the file has no empty list, which null may stand for"
    asks = "What does null say of a module, in place of a list of its codes?"
    answer = draft.ask("codes.null", asks, "no answer" if empty else None, why, (*_PLACES,))
    return _PLACES.get(answer or "", "silent")
