"""Which form do some dates have, and could another form read them as other days?"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from pipelines.reading.mapping.dates import is_month, read_date

_DAYS = (
    "%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y", "%m-%d-%Y", "%m.%d.%Y",
    "%Y%m%d",
    "%d.%m.%y", "%d/%m/%y",
    "%m/%d/%y", "%y-%m-%d", "%d-%m-%y", "%m-%d-%y", "%d %b %Y", "%d %B %Y", "%d. %B %Y", "%d. %b %Y",
    "%d-%b-%Y",
    "%d%b%y", "%d%b%Y", "%d-%b-%y", "%d %b %y", "%d/%b/%Y", "%b %d, %Y", "%B %d, %Y", "%b %d %Y", "%B %d %Y",
)  # fmt: skip
_TIMES = (
    "", " %H:%M", " %H:%M:%S", ", %H:%M", ", %H:%M:%S", " %I:%M %p", " %I:%M:%S %p", " %I:%M%p", "T%H:%M", "T%H:%M:%S",
    "T%H:%M%z", "T%H:%M:%S%z", "T%H:%M:%S.%f%z", "T%H:%M:%S.%f", " %H:%M:%S%z", " %H:%M:%S.%f", "T%H%M", "T%H%M%S",
    " %H.%M", ", %I:%M %p", ", %I:%M:%S %p", " %H:%M Uhr", ", %H:%M Uhr", " um %H:%M Uhr", ", um %H:%M Uhr", " %Hh%M",
    *(f"{mark} {word} {clock}" for word in ("ore", "alle", "alle ore", "às", "as", "a las", "om", "kl.", "kl", "klo",
      "o", "o godz.", "godz.", "godz", "godzina", "o godzinie", "um", "à", "at", "v", "w", "h", "ora", "hora", "heure",
      "Uhr") for clock in ("%H:%M", "%H.%M", "%H:%M:%S", "%Hh%M", "%Hu%M") for mark in ("", ",")),
    " %H.%M Uhr", " %H:%M h", " %H:%M uur", " %H.%M uur", ", %H.%M Uhr", ", %H:%M h", ", %H:%M uur", ", %Hh%M",
    " %Hu%M", ", %Hu%M",
    " %H:%M hs", " %H:%M hrs", " %H:%M godz.",
    " %I.%M%p", " %I.%M %p", ", %I:%M%p", ", %I.%M%p",
    " at %I:%M %p", ", at %I:%M %p", " a las %I:%M %p", " - %H:%M", " - %H:%M:%S", " - %I:%M %p",
)  # fmt: skip
# How names of files and programs without a sense for readers write a moment, and clocks in front of the day.
_OTHERS = (
    "%d. %m. %Y", "%d. %m. %Y %H:%M", "%d. %m. %Y, %H:%M", "%d. %m. %Y %H:%M:%S", "%Y. %m. %d.",
    "%Y. %m. %d. %H:%M", "%Y.%m.%d.", "%d.%m.%Y.", "%Y%m%d_%H%M", "%Y%m%d_%H%M%S", "%Y%m%d-%H%M", "%Y%m%d-%H%M%S",
    "%Y%m%d%H%M", "%Y%m%d%H%M%S", "%Y-%m-%d_%H-%M", "%Y-%m-%d_%H.%M", "%Y-%m-%d_%H:%M", "%Y-%m-%d %H-%M",
    "%Y_%m_%d", "%d_%m_%Y", "%Y %m %d", "%d %m %Y", "%Y %m %d %H %M", "%Y %m %d %H %M %S", "%d. %B %Y, %H:%M Uhr",
    "%Y %m %d %H:%M",
    *(clock + day for clock in ("%H:%M ", "%H:%M:%S ", "%H:%M, ", "%I:%M %p ") for day in ("%d.%m.%Y", "%d/%m/%Y",
      "%m/%d/%Y", "%Y-%m-%d", "%d %b %Y", "%d %B %Y", "%d-%m-%Y")),
)  # fmt: skip
DATE_FORMATS = (*(day + time for day in _DAYS for time in _TIMES), *_OTHERS)
_LETTERS = re.compile(r"[^\W\d_]+")


def _words_of(form: str) -> frozenset[str]:
    return frozenset(_LETTERS.findall(re.sub("%.", " ", form)))


_BY_WORDS: dict[frozenset[str], list[str]] = {}
for _form in DATE_FORMATS:
    _BY_WORDS.setdefault(_words_of(_form), []).append(_form)


def _worth_trying(cell: str) -> Iterator[str]:
    """Yield the forms whose own words all stand in a cell, 'um' and 'Uhr' for instance."""
    words = {*_LETTERS.findall(cell)}
    for needed, forms in _BY_WORDS.items():
        if needed <= words:
            yield from forms


_COUNTED = (("epoch ms", re.compile(r"\d{13}")), ("epoch", re.compile(r"\d{9,10}")))
_SERIAL = re.compile(r"[3-6]\d{4}(?:[.,]\d+)?")
_LONGEST, _FEWEST_DIGITS, _MOST = 60, 3, 2_000
_ENOUGH = 0.9
NO_DAY = re.compile(
    r"\s*(?:[-–—./]+|(?:not (?:yet )?sold|unsold|in stock|still here|available|for sale|nicht verkauft|auf lager|lager"
    r"|im bestand|bestand|verf[uü]gbar|zu verkaufen|en stock|non vendu|disponible|[aà] vendre|en venta|no vendido"
    r"|sin vender|in vendita|non venduto|disponibile|in magazzino|op voorraad|voorraad|niet verkocht|te koop"
    r"|beschikbaar|na stanie|niesprzedan[ey]|dost[eę]pn[eya]|na sprzeda[zż]|skladem|na sklad[eě]|neprod[aá]no|na prodej"
    r"|til salgs?|p[aå] lager|usolgt|ikke solgt|till salu|i lager|os[aå]ld|em stock|dispon[ií]vel|por vender"
    r"|n[aã]o vendido|elad[oó]|k[eé]szleten))\s*",
    re.IGNORECASE,
)
"""A sign in a column of days that stands where there is none, or words that say that a car is not sold."""
CLOCK = re.compile(r"\d{1,2}:\d\d(?::\d\d)?(?: ?[AaPp]\.? ?[Mm]\b\.?)?")
CLOCK_OF_OTHER_MARKS = re.compile(r"[0-2]?\d(?:[.h][0-5]\d){1,2}")


@dataclass(frozen=True)
class DateGuess:
    """The form of some dates.

    Attributes:
        form: What reads them; None: no known form does.
        other: A form that reads them as well and means other days; None where there is none.
        example: One of the dates that only the first form can read, else any.
    """

    form: str | None
    other: str | None = None
    example: str = ""

    @property
    def timed(self) -> bool:
        """The form tells a time of day."""
        return self.form is not None and ("%" not in self.form or re.search("%[HI]", self.form) is not None)


def date_guess(cells: Sequence[str], *, serial: bool = False) -> DateGuess:
    """Find the form that most of some dates have.

    Args:
        cells: The dates, blank ones among them.
        serial: Numbers from 30000 to 69999 may be serial days of a spreadsheet.

    Returns:
        The guess.  Where one date can be read by one of two forms only, that one counts for all.
    """
    apart = _worded(cells)
    if apart is not None:
        plain, words, behind = apart
        guess = date_guess(plain)
        given = (cell.strip() for cell in cells if cell.strip())
        shown = next((cell for cell, bare in zip(given, plain, strict=True) if bare == guess.example), guess.example)
        both = (guess.form, guess.other)
        form, other = (None if one is None else _FORM_OF_TIME.sub(rf"{words}\1", one) + behind for one in both)
        return DateGuess(form, other, shown)
    filled = sorted({cell.strip() for cell in cells if cell.strip() and len(cell) <= _LONGEST})
    filled = filled[:: max(1, len(filled) // _MOST)] if len(filled) > 2 * _MOST else filled
    if not filled:
        return DateGuess(None)
    fits = {form: _fitting(filled, form) for form in _likely(filled, serial)}
    good = [form for form in fits if len(fits[form]) >= _ENOUGH * len(filled)]
    if not good:
        return DateGuess(None)
    good = _of_few_years(good, fits)
    best = max(good, key=lambda form: len(fits[form]))
    others = [
        form
        for form in good
        if form != best and len(fits[form]) == len(fits[best]) and _days(fits[form]) != _days(fits[best])
    ]
    only = [cell for cell in fits[best] if not any(cell in fits[form] for form in fits if form != best)]
    return DateGuess(best, others[0] if others else None, (only or [*fits[best]])[0])


_WORDED = re.compile(
    r"(.*\d)(,? (?:[^\W\d_]{1,7}\.?)(?: [^\W\d_]{1,6}\.?)?:?|,)? (\d{1,2}[:.h]\d\d(?::\d\d)?)( ?[^\W\d_]{1,4}\.?)?"
)
_FORM_OF_TIME = re.compile(r"(?<=[%a-zA-Z]) (%[HI])")


def _worded(cells: Sequence[str]) -> tuple[list[str], str, str] | None:
    """Return days and times without the words between them and behind, the same in all: ``5 mei 2026 om 9:15 uur``.

    None where no words stand there, or the usual forms have them.
    """
    filled = [" ".join(cell.split()) for cell in cells if cell.strip()]
    matches = [_WORDED.fullmatch(cell) for cell in filled]
    ends = {(match[2] or "", match[4] or "") for match in matches if match}
    if not filled or None in matches or len(ends) != 1:
        return None
    words, behind = ends.pop()
    if not (words and behind) or behind.strip(" .").lower() in ("am", "pm", "a", "p") or is_month(words.strip(" ,.:")):
        return None
    return [f"{match[1]} {match[3]}" for match in matches if match], f"{words} ", behind


BETWEEN_FORMS = " | "
"""What stands between several forms in one answer."""


def forms_together(cells: Sequence[str]) -> str | None:
    """Return the forms that read some dates together, each those that are written alike; None where some are open."""
    kinds: dict[str, list[str]] = {}
    for cell in {cell.strip() for cell in cells if cell.strip()}:
        kinds.setdefault(
            re.sub(r"[^\W\d_]+", "a", re.sub(r"\d{4,}", "Y", re.sub(r"\b\d{1,2}\b", "0", cell))), []
        ).append(cell)
    guesses = [date_guess(alike) for alike in kinds.values()]
    pointed = all(one.other is None or (one.form or "").startswith("%d.") for one in guesses)
    if not 1 < len(kinds) <= _MOST_KINDS or not pointed or any(one.form is None for one in guesses):
        return None
    return BETWEEN_FORMS.join(dict.fromkeys(one.form for one in guesses if one.form))


_MOST_KINDS = 5


def _likely(filled: Sequence[str], serial: bool) -> list[str]:
    """Return the forms that read one of a few of the dates."""
    counted = [form for form, pattern in _COUNTED if all(pattern.fullmatch(cell) for cell in filled)]
    if counted:
        return counted
    if serial and all(_SERIAL.fullmatch(cell) for cell in filled):
        return ["serial"]
    few = filled[:: max(1, len(filled) // 4)][:5]
    read = frozenset[str]().union(*map(_forms_of, few))
    return [form for form in DATE_FORMATS if form in read]


@lru_cache(maxsize=65_536)
def _forms_of(cell: str) -> frozenset[str]:
    """Return the forms that read a cell."""
    if sum(map(str.isdigit, cell)) < _FEWEST_DIGITS:
        return frozenset()
    return frozenset(form for form in _worth_trying(cell) if read_date(cell, form) is not None)


def _fitting(filled: Sequence[str], form: str) -> dict[str, datetime]:
    return {cell: moment for cell in filled if (moment := read_date(cell, form)) is not None}


def _of_few_years(good: list[str], fits: dict[str, dict[str, datetime]]) -> list[str]:
    """Return the forms without those that scatter over many years what another lays into a few: 23-09-25."""
    years = {form: len({moment.year for moment in fits[form].values()}) for form in good}
    few = min(years.values())
    return [form for form in good if few > _FEW_YEARS or years[form] < _MANY_YEARS]


_FEW_YEARS, _MANY_YEARS = 3, 8


def _days(read: dict[str, datetime]) -> list[tuple[str, str]]:
    return sorted((cell, moment.date().isoformat()) for cell, moment in read.items())


@lru_cache(maxsize=65_536)
def looks_like_date(cell: str) -> bool:
    """Say whether a cell has the form of a date that is known here; counted time aside."""
    cell = cell.strip()
    if len(cell) > _LONGEST or sum(map(str.isdigit, cell)) < _FEWEST_DIGITS or (cell.isdigit() and len(cell) != 8):
        return False
    return any(read_date(cell, form) is not None for form in _worth_trying(cell))
