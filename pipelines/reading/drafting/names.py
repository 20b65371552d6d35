"""What do the names of files or sheets tell that no row does: the car, or the day?"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from pipelines.reading.drafting.code_lines import fits
from pipelines.reading.drafting.date_guesses import date_guess
from pipelines.reading.drafting.scan_lines import escaped

_EDGE, _END = r"(?:^|[^A-Za-z0-9])", r"(?:[^A-Za-z0-9]|$)"
_VIN = "[A-HJ-NPR-Za-hj-npr-z0-9]{17}"
_SHAPES = (
    # Year first without marks, with a time or not, then the ways in which days are written with marks.
    r"(?:19|20)\d{2}[01]\d[0-3]\d[_T-][0-2]\d[0-5]\d(?:[0-5]\d)?",
    r"(?:19|20)\d{2}-\d\d-\d\d[_T ]\d\d[.:-]\d\d",
    r"(?:19|20)\d{2}[-_.]\d\d[-_.]\d\d",
    r"\d\d[-_.]\d\d[-_.](?:19|20)\d{2}",
    r"(?:19|20)\d{2}[01]\d[0-3]\d",
)
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
        if found:
            form = date_guess(found).form
            if form is not None and date_guess(found).other is None:
                return pattern, form
    return None


def car_in(names: Sequence[str]) -> str | None:
    """Return the pattern that takes the car's number out of every one of some names; None where it is not plain."""
    bare = [re.sub("|".join(f"(?:{shape})" for shape in _SHAPES), " ", _stem(name)) for name in names]
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
