"""How a date of another program is read: forms of strptime, month names of several languages, and counted time.

``epoch`` counts seconds and ``epoch ms`` milliseconds since 1970 in UTC; ``serial`` counts
days since 1899-12-30, as spreadsheets do (ECMA-376 part 1, 18.17.4.1, the 1900 system).
"""

from __future__ import annotations

import re
import unicodedata
from datetime import UTC, datetime, timedelta
from functools import lru_cache

COUNTED = ("epoch", "epoch ms", "serial")
_SERIAL_ZERO = datetime(1899, 12, 30)
_NUMBER = re.compile(r"\d{1,15}(?:[.,]\d{1,15})?")
_WORD = re.compile(r"[^\W\d_]{3,}\.?")
_FIRST_YEAR, _LAST_YEAR = 1990, 2100
_ENGLISH = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
# Month names as the languages' own dictionaries have them: German, French, Spanish, Portuguese, Italian, Dutch, Polish
# and Czech (also in the genitive, as dates have them), Swedish, Danish and Norwegian.
_MONTHS = (
    "januar jänner janvier enero janeiro gennaio januari styczeń stycznia leden ledna",
    "februar feber février fevrier febrero fevereiro febbraio februari luty lutego únor února",
    "märz maerz marz mars marzo março maart marzec marca marts březen března",
    "april avril abril aprile kwiecień kwietnia duben dubna",
    "mai mayo maio maggio mei maj maja květen května",
    "juni juin junio junho giugno czerwiec czerwca červen června",
    "juli juillet julio julho luglio lipiec lipca červenec července",
    "august août aout agosto augustus augusti sierpień sierpnia srpen srpna",
    "september septembre septiembre setembro settembre wrzesień września září",
    "oktober octobre octubre outubro ottobre październik października říjen října",
    "november novembre noviembre novembro listopad listopada listopadu",
    "dezember décembre decembre diciembre dezembro dicembre december grudzień grudnia prosinec prosince",
)
_SHORT = {
    "mär": 2,
    "mrz": 2,
    "maa": 2,
    "mai": 4,
    "mei": 4,
    "okt": 9,
    "dez": 11,
    "déc": 11,
    "fév": 1,
    "avr": 3,
    "aoû": 7,
}
_DAYS_OF_THE_WEEK = (
    "mon monday montag lundi lunes lunedì maandag mo tue tues tuesday dienstag mardi martes martedì dinsdag di wed "
    "wednesday mittwoch mercredi miércoles mercoledì woensdag mi thu thur thurs thursday donnerstag jeudi jueves "
    "giovedì donderdag do fri friday freitag vendredi viernes venerdì vrijdag fr sat saturday samstag sonnabend samedi "
    "sábado sabato zaterdag sa sun sunday sonntag dimanche domingo domenica zondag so"
)
WEEKDAYS = frozenset(_DAYS_OF_THE_WEEK.split())
"""Names of the days of the week, in small letters."""
_WEEKDAY = re.compile(rf"(?:{'|'.join(sorted(WEEKDAYS, key=len, reverse=True))})\b\.?,? *", re.IGNORECASE)


# 5 de mayo de 2026, 5th May 2026, 1er mai 2026
_BESIDE_MONTHS = re.compile(r"(?<=\d)(?:st|nd|rd|th|er|º)(?= )|(?<=[^\W_]) (?:de|del|of)(?= )")
_HALF_OF_A_DAY = re.compile(r"(?<=\d)( ?[AaPp])\.? ?[Mm]\b\.?")


def _months() -> dict[str, str]:
    known = {name.lower(): name for name in _ENGLISH}
    known |= {name: _ENGLISH[place] for place, names in enumerate(_MONTHS) for name in names.split()}
    known |= {name[:3].lower(): name for name in _ENGLISH} | {"sept": "September"}
    known |= {name: _ENGLISH[place] for name, place in _SHORT.items()}
    return {_without_accents(name): means for name, means in known.items()} | known


def _without_accents(name: str) -> str:
    plain = unicodedata.normalize("NFKD", name.replace("ł", "l"))
    return "".join(sign for sign in plain if not unicodedata.combining(sign))


_DIRECTIVES = dict.fromkeys(("%d", "%m", "%H", "%I", "%M", "%S"), r"\d{1,2}") | {
    "%Y": r"\d{4}",
    "%y": r"\d{2}",
    "%f": r"\d{1,6}",
    "%z": r"(?:[Zz]|[+-]\d\d:?\d\d(?::\d\d)?)",
    **dict.fromkeys(("%b", "%B", "%a", "%A", "%p"), r"[^\W\d_]+\.?"),
}
_KNOWN_MONTHS = _months()


MONTH_BEGINS = "|".join(sorted({re.escape(name[:3]) for name in _KNOWN_MONTHS}))
"""The pattern of the first letters of a month's name, in a language known here."""


def read_date(cell: str, form: str) -> datetime | None:
    """Read a date.

    Args:
        cell: As it stands.
        form: One of ``COUNTED``, or a form of ``strptime``; names of months may be of any language known here, and a
            weekday in front of the date is passed over.

    Returns:
        The moment, in UTC where the form tells it, else without a zone; None where the cell is not of the form or lies
        before 1990 or after 2100.
    """
    try:
        if form in COUNTED:
            moment = _counted(cell, form)
        else:
            plain = _in_english(cell, *_names_in(form))
            shape = _shape(form)
            # strptime builds its own pattern anew for each form: most cells are told apart before.
            moment = datetime.strptime(plain, form) if shape is None or shape.fullmatch(plain) else None
    except (ValueError, OverflowError):
        return None
    return moment if moment is not None and _FIRST_YEAR <= moment.year <= _LAST_YEAR else None


def names_no_day(cell: str, form: str) -> bool:
    """Say whether a cell is written in a form of ``strptime`` and names a day or time that there is not: 31.11.2026."""
    if form in COUNTED:
        return False
    plain, shape = _in_english(cell, *_names_in(form)), _shape(form)
    if shape is None or not shape.fullmatch(plain):
        return False
    try:
        datetime.strptime(plain, form)
    except ValueError:
        return True
    return False


@lru_cache(maxsize=2048)
def _shape(form: str) -> re.Pattern[str] | None:
    """Return what a date of a form looks like at least, or None where the form has a directive that is not known."""
    made = ""
    for piece in re.findall(r"%.|\s+|.", form):
        if piece.startswith("%"):
            if piece not in _DIRECTIVES:
                return None
            made += _DIRECTIVES[piece]
        else:
            made += r"\s+" if piece.isspace() else re.escape(piece)
    return re.compile(made)


def _counted(cell: str, form: str) -> datetime | None:
    if not _NUMBER.fullmatch(cell) or not cell.isascii():
        return None
    number = float(cell.replace(",", "."))
    if form == "serial":
        return _SERIAL_ZERO + timedelta(seconds=round(number * 86_400))
    return datetime.fromtimestamp(number / (1000 if form == "epoch ms" else 1), tz=UTC).replace(microsecond=0)


@lru_cache(maxsize=4096)
def is_month(word: str) -> bool:
    """Say whether a word names a month in a language known here, in full or by its beginning."""
    return _month(word.rstrip(".").lower()) is not None


def _month(word: str) -> str | None:
    """Return the English name of a month, also of the beginning of one that no other month's name has."""
    if word in _KNOWN_MONTHS or len(word) < 3:
        return _KNOWN_MONTHS.get(word)
    begun = {name for spelling, name in _KNOWN_MONTHS.items() if spelling.startswith(word)}
    return begun.pop() if len(begun) == 1 else None


@lru_cache(maxsize=2048)
def _names_in(form: str) -> tuple[bool, str]:
    """Tell whether a form has a weekday, and how it has the month: ``%B``, ``%b``, or blank for a number."""
    return "%a" in form.lower(), "%B" if "%B" in form else "%b" if "%b" in form else ""


@lru_cache(maxsize=4096)
def _in_english(cell: str, weekday: bool, month: str) -> str:
    """Return a cell with single spaces, its month in English, p. m. as pm, and no weekday that the form has not."""
    plain = _HALF_OF_A_DAY.sub(lambda half: f"{half[1]}m", " ".join(cell.split()))
    if not weekday:
        plain = _WEEKDAY.sub("", plain, count=1) if _WEEKDAY.match(plain) else plain
    if not month:
        return plain
    plain = _BESIDE_MONTHS.sub("", plain)

    def english(word: re.Match[str]) -> str:
        name = _month(word[0].rstrip(".").lower())
        return word[0] if name is None else name if month == "%B" else name[:3]

    return _WORD.sub(english, plain)
