"""Draft the patterns of printed job cards: a line tells job, car and day, and each line below it one work.

Its cost and time stand behind a work; where on the car, in brackets or behind a comma.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipelines.reading.drafting.code_lines import fits, groups_in
from pipelines.reading.drafting.date_guesses import date_guess
from pipelines.reading.drafting.draft import Draft, literal
from pipelines.reading.drafting.draft_values import ask_form, draft_words, put_forms, put_marks
from pipelines.reading.drafting.job_lines import is_job, job_field, job_inside
from pipelines.reading.drafting.numbers import number_guess
from pipelines.reading.drafting.scan_lines import Field, fields, heading, heading_unit, scan_patterns, with_bare_car
from pipelines.reading.drafting.words import ACTIONS, Modules, known_in, verb_of, works_in

_BULLET = re.compile(r"\s*(?:[-*•·>–+]|\d{1,2}[.)])\s+(?=\S)")
_RULE = re.compile(r"[\s\-=_+|*.#~]*")
_MONEY = r"(?i:eur|euro|usd|gbp|chf|pln|kr|zł|€|£|\$)"
_AMOUNT = r"[0-9]+(?:[.,' ]?[0-9]+)*"
_COST = rf"(?:{_MONEY}\s?(?<part_cost>{_AMOUNT})(?:[.,][-–]+)?|(?<part_cost_2>{_AMOUNT})(?:[.,][-–]+)?\s?{_MONEY})"
_MINUTES = r"(?<labour_minutes>[0-9]{1,4})\s?(?i:min(?:\.|s|utes?|uten|uti|utos|uty|uter)?|mn)\b\.?"
_HOURS = (
    r"(?<labour_minutes>[0-9]{1,2}(?:[.,:][0-9]{1,2})?)\s?"
    r"(?i:h|hrs?|hours?|std\.?|stunden|heures?|horas?|ore|uur|godz\.?)\b\.?"
)
_PLACE = (
    r"(?i:front|rear|left|right|upper|lower|inner|outer|driver|passenger|cyl(?:inder)?\.? ?\d|bank \d|vorn\w*|hint\w+"
    r"|links|rechts|oben|unten|avant|arri[eè]re|gauche|droite?|delanter\w+|traser\w+|izquierd\w+|derech\w+|ant\.?"
    r"|anterior\w*|post\.?|posterior\w*|sinistr\w+|destr\w+|voor|achter|prz[oó]d|przedni\w*|tyln?\w*|lew\w+|praw\w+)"
)
_SUM = re.compile(r"(?i)\s*(?:sub-?\s?total|total|totale|totaal|summe|gesamt|suma|razem|somme)\b")
_TITLE = re.compile(r"\s*[^\W\d_][^:\d]{0,30}:\s*")
_FEWEST = 2
_CELLS = re.compile(r"\S\s{2,}\S|\s\d+(?:[.,]\d+)?$")
"""What is left in the words of a work where it is a row of several cells, or has a number that nothing reads."""


def draft_job_cards(draft: Draft, lines: Sequence[str], is_module: Modules) -> bool:
    """Draft the patterns of job cards; return whether some lines are such.

    Args:
        draft: Gets the lines.
        lines: The text, without blank lines.
        is_module: Whether a text names a module.
    """
    begins = [line for line in lines if is_job(line) and not tells_work(line)]
    begins = begins or [line for line in lines if _tells_a_visit(line) and not tells_work(line)]
    heads = _heads(begins, lines) if len(begins) >= _FEWEST else []
    told = {group for head in heads for group in groups_in(head)}
    if not {"vehicle", "done_at"} <= told or any(head.startswith(r"^.*?\s*(?<job>") for head in heads[:1]):
        return False  # a number without a word in front of it may be any
    first = next(at for at, line in enumerate(lines) if fits(heads[0], line))
    below = [line for line in lines[first:] if not any(fits(head, line) for head in heads)]
    passed = (_RULE.fullmatch, _SUM.match, _TITLE.fullmatch)
    works = _without_greeting([line for line in below if not any(passes(line) for passes in passed)])
    pattern = _work(works)
    rest = [line for line in works if fits(pattern, line) is None]
    if not works or len(rest) > 0.2 * len(works):
        return False
    cells = [line for line in works if (match := fits(pattern, line)) and _CELLS.search(match["action"])]
    if len(cells) > 0.2 * len(works):
        return False  # the rows of a table
    draft.put("table", "repairs", "lines tell a job, a car and a day, and those below what was done")
    draft.line("scan = [", "text")
    for head in heads:
        draft.line(f"    {literal(head)},", "text")
    draft.line("]", "text")
    draft.line(f"code = {literal(pattern)}", "text")
    if "job" not in told:
        draft.reasons.append("job: no line has a number of it: what was done to one car on one day counts as one job")
    draft.reasons.append(
        f"text: lines like {begins[0].strip()!r} begin a job, lines like {works[0].strip()!r} are its work"
    )
    _draft_cells(draft, lines, heads, pattern, is_module)
    if rest:
        asks = (
            f"Lines like {rest[0].strip()[:100]!r} stand below jobs, and no pattern takes them; may they be left out?"
        )
        draft.ask_leave("text.works", asks, "they may tell what was done")
    return True


def _without_greeting(works: Sequence[str]) -> list[str]:
    """Return lines of work without the words behind the last of them, where all the others are marked as a list's."""
    marked = [at for at, line in enumerate(works) if _BULLET.match(line)]
    ends = works[marked[-1] + 1 :] if len(marked) > _FEWEST else []
    told = any(re.search(r"\d", line) or tells_work(line) for line in ends)
    return [*works] if told or len(marked) + len(ends) < len(works) else [*works[: len(marked)]]


def _heads(begins: Sequence[str], lines: Sequence[str]) -> list[str]:
    """Return the patterns of what tells job, car, day and distance, the line with the job first."""
    line = begins[0]
    told = [field for field in fields(line) if field.column != "scanned_at_2"]
    if not any(field.column in ("vehicle", "vin") for field in told):
        told = with_bare_car(line, told)
    job = job_field(line) if is_job(line) else job_inside(line)
    if job is not None:
        told = [*(field for field in told if field.end <= job.start or field.start >= job.end), job]
    told = sorted(told, key=lambda field: field.start)
    head = heading(line, told)
    if not all(fits(head, other) for other in begins):
        head = "^" + "".join(r".*?\s*" * (bool(at) or job is None) + _group(field) for at, field in enumerate(told))
    if not all(fits(head, other) for other in begins):
        return []
    wanted = {"vehicle", "vin", "scanned_at", "odometer", "odometer_unit"} - {field.column for field in told}
    others = [other for other in lines if other not in begins and not tells_work(other)]
    more = scan_patterns(others, {*()}, wanted) if wanted & {"vehicle", "scanned_at", "odometer"} else []
    return [
        pattern.replace("<scanned_at>", "<done_at>").replace("<vin>", "<vehicle>")
        for pattern in (head, *(one for one in more if "_2>" not in one))
    ]


def _tells_a_visit(line: str) -> bool:
    """Say whether a line tells a car and a day."""
    told = fields(line)
    cars = {field.column for field in told} & {"vehicle", "vin"} or len(with_bare_car(line, [*told])) > len(told)
    return bool(cars) and any(field.column == "scanned_at" for field in told)


def _group(field: Field) -> str:
    return f"(?<{field.column}>{field.pattern})"


def tells_work(line: str) -> bool:
    """Say whether a line says in the usual words what was done."""
    text = _BULLET.sub("", line, count=1).strip()
    return any(
        known_in(ACTIONS, piece.strip()) or verb_of(piece) or verb_of(piece, at_end=True)
        for piece in (*works_in(text), re.split(r"[:;,(]", text)[0])
    ) or any(known_in(ACTIONS, piece) for piece in re.split(r"\s*[:;,()]\s*|\s+[–—-]\s+", text)[:_FEWEST])


def _work(works: Sequence[str]) -> str:
    """Return the pattern of a line that tells one work: what was done, where, what it cost, how long it took."""
    marked = bool(works) and all(map(_BULLET.match, works))
    start = (
        r"^\s*(?:[-*•·>–+]|\d{1,2}[.)])\s+"
        if marked
        else r"^\s+"
        if all(one[:1].isspace() for one in works)
        else r"^\s*"
    )
    timed = [line for line in works if fits(_MINUTES, line)]
    time = _MINUTES if timed or not any(fits(_HOURS, line) for line in works) else _HOURS
    both = next((line for line in works if fits(_COST, line) and fits(time, line)), None)
    cost_first = both is None or _start(_COST, both) < _start(time, both)
    first, second = (_COST, time) if cost_first else (time, _COST)
    place = rf"(?:\s*\((?<position>[^()0-9]*)\)|,\s*(?<position_2>{_PLACE}(?:[ /-][^\W\d_]+\.?){{0,3}}))?"
    between = r"\s*[-–:;,|()/]*\s*"
    return rf"{start}(?<action>[^\W\d_].*?){place}(?:{between}{first})?(?:{between}{second})?[\s).,;]*$"


def _start(pattern: str, line: str) -> int:
    match = fits(pattern, line)
    return match.start() if match else len(line)


def _draft_cells(draft: Draft, lines: Sequence[str], heads: Sequence[str], work: str, is_module: Modules) -> None:
    """Draft how days and numbers are written, and what the words for work mean."""
    cells: dict[str, list[str]] = {}
    for line in lines:
        match = next((match for pattern in (*heads, work) if (match := fits(pattern, line))), None)
        for name, text in match.groupdict().items() if match else ():
            if text is not None:
                cells.setdefault(name.removesuffix("_2"), []).append(text.strip())
    form = ask_form(draft, date_guess(cells["done_at"]), cells["done_at"])
    if form is not None and not re.fullmatch(r"%Y-%m-%d(?:[ T]%H:%M(?::%S)?)?", form):
        put_forms(draft, form)
    counted: tuple[str, ...] = ("odometer", "part_cost")
    printed = "odometer_unit" in cells
    put_marks(
        draft, {name: number_guess(cells[name], whole=True, printed=printed) for name in counted if name in cells}
    )
    if "odometer" in cells and "odometer_unit" not in cells and (unit := heading_unit(lines)):
        draft.put("odometer_unit", unit, "the word in front of the number says so", "constants")
    for unit in sorted({unit.lower() for unit in cells.get("odometer_unit", ())} - {"km", "mi"}):
        draft.put(unit, "mi", table="values.odometer_unit")
    hours = fits(_HOURS, next((line for line in lines if fits(work, line) and fits(_HOURS, line)), ""))
    if cells.get("labour_minutes") and hours and _HOURS in work:
        draft.put("labour", "hours", f"{hours[0]!r} says so")
    draft_words(draft, {name: cells[name] for name in ("action", "position") if name in cells}, is_module)
