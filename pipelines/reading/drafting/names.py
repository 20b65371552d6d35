"""What do the names of files or sheets tell that no row does: the car, or the day?"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from pipelines.reading.drafting.code_lines import fits
from pipelines.reading.drafting.date_guesses import date_guess
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.scan_lines import escaped
from pipelines.reading.mapping.dates import read_date

_EDGE, _END = r"(?:^|[^A-Za-z0-9])", r"(?:[^A-Za-z0-9]|$)"
_VIN = "[A-HJ-NPR-Za-hj-npr-z0-9]{17}"
_YEAR, _TWO = r"(?:19|20)\d{2}", r"\d\d"
_HOUR, _MINUTE = "[0-2]\\d", "[0-5]\\d"
_MONTH = (
    "(?i:jan|feb|f[eé]v|m[aä]r|apr|avr|abr|ma[aiyjg]|mei|jun|jui|giu|cze|jul|lip|lug|aug|ao[uû]|ago|sie|sep|set|wrz"
    "|o[ck]t|ott|pa[zź]|nov|lis|de[cz]|d[eé]c|dic|gru|ene|gen|sty|lut|kwi)[^\\W\\d_]*"
)
_DAYS = (
    *(f"{_YEAR}{mark}{_TWO}{mark}{_TWO}" for mark in ("-", "_", "[.]")),
    *(f"{_TWO}{mark}{_TWO}{mark}{_YEAR}" for mark in ("-", "_", "[.]")),
    rf"{_YEAR}[01]\d[0-3]\d",
    rf"[0-3]\d[01]\d{_YEAR}",
    *(rf"\d{{1,2}}{mark}{_MONTH}{mark}{_YEAR}" for mark in ("-", "_", " ", "")),
)
_CLOCKS = (
    f"{_HOUR}{_MINUTE}(?:{_MINUTE})?",
    *(f"{_HOUR}{mark}{_MINUTE}(?:{mark}{_MINUTE})?" for mark in ("-", "_", "[.]", "h", ":")),
)
_BETWEEN = ("_", "-", "T", " ", "__", " - ")
_SHAPES = (*(f"{day}{mark}{clock}" for clock in _CLOCKS for day in _DAYS for mark in _BETWEEN), *_DAYS)
"""How the names of files write a day, with a time of day behind it or not; those with one before those without."""
_TIME_LEFT = rf"^[ _T-]+(?:{'|'.join(_CLOCKS)})(?![0-9])|[^0-9](?:{'|'.join(_CLOCKS)})[ _-]+$"
_NUMBER = re.compile(r"([A-Za-z]{1,4})-?\d{2,6}[A-Za-z]?")
_STOCK_NUMBER = re.compile(r"(?![PCBUpcbu]-\d{4}$)[A-Za-z]-\d{3,6}")  # no code of a fault
_CALLED = rf"{_EDGE}(?i:car|stock|vehicle|wagen|fahrzeug)[ _.-]*(?i:no|nr)?[ _.-]*(?<vehicle>\d{{2,6}}){_END}"
_DIGITS = re.compile(r"\d{3,6}")
# Words that number files and sheets, never cars.
_NO_CAR = {
    "scan", "dtc", "page", "part", "teil", "blad", "tab", "file", "copy", "rev", "ver", "v", "nr", "no", "list", "log",
    "data", "auto", "car", "test", "q", "kw", "week", "run", "a", "p", "s", "t", "sht",
}  # fmt: skip


def date_in(names: Sequence[str]) -> tuple[str, str] | None:
    """Return the pattern that takes the day, and time, out of every one of some names, and their form."""
    for shape in _SHAPES:
        pattern = rf"{_EDGE}(?<scanned_at>{shape}){_END}"
        found = _all(names, pattern)
        form = _form_of(found) if found else None
        if form is not None:
            return pattern, form
    return None


def _form_of(moments: Sequence[str]) -> str | None:
    """Return the one form of some moments in names; None where none reads them, or two mean other days."""
    guess = date_guess(moments)
    if guess.form is not None:
        return guess.form if guess.other is None else None
    read = [form for form in _FORMS if all(_digits_as_read(moment, form) for moment in moments)]
    days = {form: [read_date(moment, form) for moment in moments] for form in read}
    return read[0] if read and all(days[form] == days[read[0]] for form in read) else None


def _digits_as_read(moment: str, form: str) -> bool:
    """Say whether a form reads a moment, each number as long as it would be written: 0954 has no seconds."""
    read = read_date(moment, form)
    return read is not None and re.sub(r"\D", "", read.strftime(form)) == re.sub(r"\D", "", moment)


_FORMS = tuple(
    day + mark + clock
    for day in (
        *("%Y-%m-%d", "%Y_%m_%d", "%Y.%m.%d", "%Y%m%d", "%d-%m-%Y", "%d_%m_%Y", "%d.%m.%Y", "%d%m%Y", "%m-%d-%Y"),
        *("%d-%b-%Y", "%d_%b_%Y", "%d %b %Y", "%d%b%Y"),
    )
    for mark in _BETWEEN
    for clock in (
        *("%H%M", "%H%M%S", "%H-%M", "%H-%M-%S", "%H_%M", "%H_%M_%S", "%H.%M", "%H.%M.%S", "%Hh%M", "%H:%M"),
        "%H:%M:%S",
    )
)


def time_left(names: Sequence[str], pattern: str) -> str | None:
    """Return what may be the time of day beside the day that a pattern takes out of every one of some names; or None.

    It stands right behind the day, or right in front of it.
    """
    left = []
    for name in names:
        match = fits(pattern, name)
        start, end = match.span("scanned_at") if match else (0, len(name))
        left.append(re.search(_TIME_LEFT, _stem(name)[end:]) or re.search(_TIME_LEFT, name[:start]))
    return left[0][0].strip(" _T-") if left and all(left) and left[0] else None


def ask_time_of_names(draft: Draft, names: Sequence[str], pattern: str) -> None:
    """Ask about what may be the time of day in the names of files, where the pattern of the day does not take it."""
    left = time_left(names, pattern)
    if left is not None:
        asks = f"{left!r} in {names[0]!r} may be the time of day; may it be left out?"
        draft.ask_leave("names.time", asks, "it has no form that is known here; scans of one day and car would be one")


_DATED = re.compile("|".join(f"(?:{shape})" for shape in _SHAPES))


def car_in(names: Sequence[str]) -> str | None:
    """Return the pattern that takes the car's number out of every one of some names; None where it is not plain."""
    bare = [_DATED.sub(" ", _stem(name)) for name in names]
    vins = rf"{_EDGE}(?<vin>{_VIN}){_END}"
    if _all(bare, vins):
        return vins
    tokens = [re.split(r"[^A-Za-z0-9-]+|(?<=\s)-|-(?=\s)", name) for name in bare]
    lettered = [[token for token in found if _is_number(token)] for found in tokens]
    if all(len(found) == 1 for found in lettered):
        prefixes = {match[1] for found in lettered if (match := _NUMBER.fullmatch(found[0]))}
        shape = "|".join(sorted(map(escaped, prefixes))) if len(prefixes) <= 3 else "[A-Za-z]{1,4}"
        return rf"{_EDGE}(?<vehicle>(?:{shape})-?\d{{2,6}}[A-Za-z]?){_END}"
    if _all(bare, _CALLED):
        return _CALLED
    digits = [[token for token in found if _DIGITS.fullmatch(token)] for found in tokens]
    if len(names) > 1 and all(len(found) == 1 for found in digits):
        return rf"{_EDGE}(?<vehicle>\d{{3,6}}){_END}"
    return None


def module_in(names: Sequence[str], is_module: Callable[[str], bool]) -> str | None:
    """Return the pattern that takes the module out of every one of some names; None where they name none."""
    bare = [_stem(name).strip() for name in names]
    return r"^\s*(?<module>.+?)\s*(?:\.[A-Za-z]{1,5})?$" if bare and all(map(is_module, bare)) else None


def both(patterns: Sequence[str], names: Sequence[str]) -> str | None:
    """Return one pattern that takes what two take, in the order they have in every name; None where there is none."""
    for first, second in (patterns, patterns[::-1]):
        end, edge = first.removesuffix("(?:[^A-Za-z0-9]|$)"), second.replace("(?:^|[^A-Za-z0-9])", "[^A-Za-z0-9]", 1)
        joined = f"{end}(?:|[^A-Za-z0-9].*?){edge}"
        if all(fits(joined, name) for name in names):
            return joined
    return None


def _is_number(token: str) -> bool:
    match = _NUMBER.fullmatch(token)
    return match is not None and (match[1].lower() not in _NO_CAR or _STOCK_NUMBER.fullmatch(token) is not None)


def _stem(name: str) -> str:
    return re.sub(r"\.[A-Za-z]{1,5}$", "", name)


def _all(names: Sequence[str], pattern: str) -> list[str]:
    """Return what the one group of a pattern takes out of each name; nothing where one does not fit."""
    found = [fits(pattern, name) for name in names]
    return [match[match.lastgroup or 0] for match in found if match] if all(found) else []
