"""Which column of an unknown export is which column of a table: a guess, with its reason.

A column is known by its heading, in a few languages, and by what its cells look like.
The one with most for it gets the place; every guess is shown to the user, who decides.
A number alone is never an odometer: its heading or its unit must say so.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from analysis.vocabulary.codes import read_code
from analysis.vocabulary.vin import FULL_VIN
from pipelines.reading.account import LIKE_A_CODE
from pipelines.reading.drafting.answer_words import says_answered
from pipelines.reading.drafting.date_guesses import NO_DAY, date_guess, forms_together, looks_like_date
from pipelines.reading.drafting.near_headings import near_heading
from pipelines.reading.drafting.numbers import looks_like_number, unit_behind
from pipelines.reading.drafting.words import (
    ACTIONS,
    HEADINGS,
    KIND_OF_SCAN,
    MONEY,
    NO_CODES,
    NOT_READ,
    PLATES,
    SILENT,
    STATUS,
    folded,
    known_in,
    numbers_cars,
    units_of,
    verbs_of,
    works_in,
)
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.durations import minutes_in

IsModule = Callable[[str], bool]
_MOST = 400
_OFTEN, _ENOUGH, _MOSTLY = 0.5, 0.6, 0.8
_EXACT, _PART, _ABOVE, _CELLS = 5, 3, 2, 3
_NEAR, _SPELLED_LIKE = 1, "is spelled like"
# Words that say too little inside a longer heading: "Maker no." is no vehicle, "Days ago" no date.
_WEAK = {
    "address", "amount", "anno", "ano", "art", "at", "auto", "bj", "blad", "car", "casa", "check", "clock", "codes",
    "condition", "control", "cost", "cost eur", "count", "counter", "created", "data", "date", "day", "days", "del",
    "descr", "did", "distance", "do", "ek", "entry", "erro", "error", "errore", "eur", "fault", "fel", "frame",
    "from", "gear", "gone", "hours", "hz", "id", "in", "item", "kfz", "kind", "km", "label", "labor", "labour",
    "lectura", "lecture", "lettura", "lot", "material", "mi", "miles", "model", "montage", "my", "name", "netto",
    "new", "no", "note", "now", "now or stored", "nr", "number", "old", "on", "or", "order", "ore", "out", "part",
    "parte", "parts", "place", "pos", "position", "price", "pris", "read", "reading", "reg", "ro", "rt", "rz",
    "seite", "sg", "side", "sistema", "soort", "source", "st", "stat", "state", "stock", "system", "systeme", "tag",
    "taken", "teller", "test", "text", "time", "times", "tipo", "typ", "type", "uklad", "unit", "units", "uren",
    "op", "vo", "closed", "fertig", "unite", "unidad", "unita", "unidade", "einheit", "eenheid", "codice", "codigo",
    "net", "vk", "was", "num", "numer", "numero", "rif", "reference", "parc", "seen", "nb", "liczba", "mal", "visto",
    "vu", "contact", "online", "connected", "reachable", "antwort", "respuesta", "risposta", "reponse", "komunikacja",
    "change", "known as", "alternatives", "svar", "comunicacion", "what", "when", "where", "words", "work", "year",
    "zeit", "zeit min", "den", "dia", "dne", "na", "ar", "dil", "an", "kode", "cod", "enhed", "enhet", "timp", "kr",
    "kc", "take", "cas", "feil", "fejl", "dele", "deler", "hely", "sag", "obra", "folha", "valor", "pret", "hinta",
    "minut", "minuty", "minutter", "minuter", "antall", "pocet", "hora", "navn", "nazev", "vuz", "vozu", "lado",
    "vogn", "vika", "osa", "vad", "hva", "hvad", "klar", "kesz", "entrada", "saida", "compra", "venda", "kontrola",
    "kontrol", "kontroll", "arbete", "arbeid", "arbejde", "trabalho", "operacao", "stare", "unidades", "mn", "rj",
    "comanda", "strana", "poloha", "quadro", "bord",
}  # fmt: skip
_BARE_NUMBERS, _SHORTEST_BARE = ("no", "nr", "number", "id", "ref", "num", "numer", "numero", "rif"), 3
_ANY_NUMBER = {*_BARE_NUMBERS, "code", "nummer", "reference", "referencia", "referentie", "riferimento", "referenz"}
_UNITS = ("unit", "unite", "unidad", "unita", "unidade", "einheit", "eenheid")  # a car, or a control unit of one
_ADDRESS = re.compile(r"(?:0x)?[0-9A-Fa-f]{1,3}h?")
_SIGNS_OF_NUMBERS = ("#", "№", "Nº", "N°")
VIN_INSIDE = r"(?:^|[^A-Za-z0-9])([A-HJ-NPR-Z0-9]{4}[A-HJ-NPR-Z0-9]{9}[0-9]{4})(?:[^A-Za-z0-9]|$)"
"""The pattern of a full vehicle number inside a text; its last four places are digits nearly everywhere."""
_MOMENT = re.compile(r"1[2-9]\d{8}(?:\d{3})?|2[01]\d{8}(?:\d{3})?")
_YEAR_OF_A_CAR = re.compile(r"19[5-9]\d|20[0-3]\d")
_HEX_BYTE = re.compile("(?:0x)?[0-9A-Fa-f]{2}")
_CAR = re.compile(r"(?=.*[A-Z])(?=.*\d)[A-Z0-9]{1,4}[ -]?[A-Z0-9 ]{1,6}(?:-[A-Z0-9]{1,4})?")
_MAKERS_OWN = re.compile(r"\d{5}")
_SIX_HEX = re.compile(r"(?:0[xX])?[0-9A-Fa-f]{6}[hH]?|(?:[0-9A-Fa-f]{2}[ .:-]){2}[0-9A-Fa-f]{2}")
_NUMBERED = re.compile(r"\d{4,6}(?![\w.,])")
_SPACED_CODE = re.compile(r"[PCBU] [0-3][0-9A-F]{3}\b", re.IGNORECASE)
_SOME = 0.25
ANOTHER_DISTANCE = re.compile(
    r"\b(?:since|seit|depuis|desde|dal|dalla|after|nach|per|pro|par|next|service|range|reichweite|autonomie|first|erst\w*"
    r"|premier\w*|eras\w*|clear\w*|geloscht|trip|tages\w*|speed|h|to|bis|until|rest\w*|interval\w*|driven|gefahren)\b"
)
_ODOMETER_UNITS = {"km", "mi", "miles"}
_DISTANCE_INSIDE = re.compile(
    r"\bkm[a-z]{2,}|\b[a-z]{3,}km\b|kilomet|odomet|tachymet|quilomet|chilomet|\bkil\b|mileage|milage"
)
"""Folded headings of a distance in which a word for it is run together with others: ``kmtal``, ``cuentakm``."""
_FAR = 3_000  # most cars of a dealer have been driven farther, in either unit


@dataclass(frozen=True)
class Source:
    """One column of an export: its heading, or its path in JSON, and the cells that are there."""

    name: str
    cells: tuple[str, ...]
    path: bool = False

    @cached_property
    def filled(self) -> list[str]:
        """Some of the cells that are not blank, spread over the whole column, each once."""
        distinct = list(dict.fromkeys(cell.strip() for cell in self.cells if cell.strip()))
        return distinct[:: max(1, len(distinct) // _MOST)]

    @cached_property
    def headings(self) -> list[str]:
        """The heading as it is compared, with and without its unit; of a path its last name first, then those above."""
        walked = self.path or "[]" in self.name or "{}" in self.name
        parts = [part for part in re.split(r"\.|\[\]|\{\}", self.name) if part] if walked else [self.name]
        made = []
        for part in reversed(parts):
            plain = "number" if part.strip().strip("#") in ("", *_SIGNS_OF_NUMBERS) else folded(part)
            bare = " ".join(
                word for word in plain.split() if word not in {*map(folded, units_of(part)), "miles", "eur", "min"}
            )
            made.append("|".join(dict.fromkeys(filter(None, (plain, re.sub(r" ?\d+$", "", plain), bare)))))
        return made

    @property
    def stem(self) -> str:
        """The heading without its numbers: of ``Fehler 1`` and ``Fehler 2`` the same."""
        return re.sub(r"\s*\d+\s*", " ", folded(self.name)).strip()


def counted_stem(heading: str) -> str:
    """Return a heading of codes without the number or letter that counts it among its like: of ``Fault B`` fault.

    A heading that is not counted, or says more than that codes stand below it, is returned as it is.
    """
    plain = folded(heading)
    bare = re.sub(r" ?\d+$| [a-h]$", "", plain)
    return bare if bare and all(word in CODE_WORDS for word in bare.split()) else plain


CODE_WORDS = {word for phrase in HEADINGS["scans"]["code"] for word in phrase.split()} | {"defauts", "fehlern"}


_A_PATH = re.compile(r"[A-Za-z_][\w-]*(?:\.[A-Za-z_][\w-]*)*")


def sources_of(columns: Mapping[str, Sequence[str]]) -> dict[str, Source]:
    """Return a file's columns by their names; where one walks through a list, all are paths."""
    walked = any("[]" in name or "{}" in name for name in columns)
    paths = walked or (any("." in name for name in columns) and all(map(_A_PATH.fullmatch, columns)))
    return {name: Source(name, tuple(cells), paths) for name, cells in columns.items()}


@dataclass(frozen=True)
class Guess:
    """One column of the layout, the file's column that seems to be it, and why; by a likeness of spelling alone."""

    column: str
    source: str
    why: str
    near: bool = False


def guess_columns(
    sources: Sequence[Source], table: str, is_module: IsModule, told: Collection[str] = ()
) -> list[Guess]:
    """Guess which of a file's columns are which of a table's.

    Args:
        sources: The file's columns.
        table: One of the five.
        is_module: Whether a text names a module.
        told: Columns of the table that something else tells.

    Returns:
        At most one guess a column of the table and of the file, in the table's order.
    """
    scored = []
    columns = [column.name for column in LAYOUTS[table].mappable if column.name in HEADINGS[table]]
    columns = [name for name in columns if name not in told]
    for place, source in enumerate(sources):
        for column in columns:
            score, why = _score(table, column, source, is_module)
            if score > 0:
                near = not _named(HEADINGS[table][column], source)[0] and f" {_SPELLED_LIKE} " in why
                scored.append((-score, place, columns.index(column), Guess(column, source.name, why, near)))
    scored = [found for found in scored if found[3].source not in _days_of_the_file(found[3].column, scored)]
    taken: list[Guess] = []
    for *_, guess in sorted(scored, key=lambda found: found[:3]):
        if not any(guess.column == other.column or guess.source == other.source for other in taken):
            taken.append(guess)
    return sorted(taken, key=lambda guess: columns.index(guess.column))


def _days_of_the_file(column: str, scored: Sequence[tuple[float, int, int, Guess]]) -> set[str]:
    """Return the paths of JSON to a day of the whole file, where days of its cars may be meant.

    Such a day stands outside a list that another day stands in; or outside the list of cars, and is called the day
    on which the file was made.
    """
    if column not in _DAYS:
        return set()
    days = [guess.source for *_, guess in scored if guess.column == column]
    cars = [guess.source for *_, guess in scored if guess.column in ("vehicle", "vin")]
    inside = [list_of(path) for path in days]
    return {
        path
        for path in days
        if any(other != list_of(path) and other.startswith(list_of(path)) for other in inside)
        or (_OF_THE_FILE.search(folded(path)) and any(list_of(car) for car in cars) and not list_of(path))
    }


def list_of(path: str) -> str:
    """Return a path as far as the last list that it walks through."""
    return path[: max(path.rfind("[]"), path.rfind("{}")) + 2] if "[]" in path or "{}" in path else ""


_DAYS = ("scanned_at", "done_at")
_OF_THE_FILE = re.compile(r"\b(?:created|generated|exported|printed|made|export|erstellt|erzeugt|cree|genere|creado)\b")


def _score(table: str, column: str, source: Source, is_module: IsModule) -> tuple[float, str]:
    named, heading = _named(HEADINGS[table][column], source)
    if column == "odometer" and not named and _has_distance(source):
        named, heading = _ABOVE, f"the unit in the heading {source.name!r}"
    if column == "part_cost":
        named, heading = _priced(table, source, named, heading)
    if column == "vehicle" and not named and _names_cars(source):
        named, heading = _ABOVE, "names like numbers of cars"
    if not named and (like := near_heading(table, column, source.name)):
        named, heading = _NEAR, f"the heading {source.name!r} {_SPELLED_LIKE} {like!r}"
    if column == "job" and _numbers_a_job(source):
        named, heading = _EXACT, f"the heading {source.name!r}"
    if _is_of_another(column, source, named):
        return 0, ""
    looks, seen = _looks(table, column, source, is_module, named > 0)
    if looks < 0 or named + looks <= 0:
        return 0, ""
    if column == "vehicle":
        less = _less_a_car(table, source)
        if less is None:
            return 0, ""
        named -= less
    # A column with cells is the likelier one, other things equal.
    return named + looks + (0.5 if len(source.filled) > 1 else 0), " and ".join(filter(None, (heading, seen)))


def _priced(table: str, source: Source, named: float, heading: str) -> tuple[float, str]:
    """Return how much a heading says that it is one of costs: what the dealer pays, without tax, of several prices."""
    words = {*folded(source.name).split()}
    if not words & _NO_PRICE and (words & _BUYING or any(word.startswith(_PAID_FIRST) for word in words)):
        return _EXACT + 1, f"the heading {source.name!r}"
    if not named and MONEY.search(source.name):
        return _named(HEADINGS[table]["part"], source)
    taxed = words & (_WITH_TAX | _WITHOUT_TAX)
    if taxed and not named:
        bare = " ".join(word for word in folded(source.name).split() if word not in taxed | _TAX)
        named, heading = _named(HEADINGS[table]["part_cost"], Source(bare, ()))[0], f"the heading {source.name!r}"
    return (named - bool(words & _WITH_TAX) + 0.5 * bool(words & _WITHOUT_TAX) if named else named), heading


_BUYING = {"ek", "einkauf", "inkoop", "achat", "buying", "purchase", "compra", "acquisto", "zakup", "zakupu", "inkop"}
_NO_PRICE = {
    "order",
    "orders",
    "no",
    "nr",
    "number",
    "nummer",
    "numero",
    "date",
    "datum",
    "on",
    "from",
    "ref",
    "id",
    "bei",
}
_TAX = {"vat", "tax", "mwst", "ust", "btw", "tva", "iva", "moms", "dph", "taxe", "taxes"}
_WITH_TAX = {"ttc", "brutto", "bruto", "gross", "incl", "inkl", "including", "inclus", "lordo", "incluido", "compresa"}
_WITHOUT_TAX = {"ht", "netto", "net", "neto", "excl", "exkl", "excluding", "hors", "ohne", "senza", "sin", "exklusive"}


_PAID = {
    "achat", "achete", "einkauf", "ek", "ankauf", "bought", "purchase", "paid", "compra", "comprado", "acquisto",
    "inkoop",
    "zakup", "zakupu", "inkop", "trade", "cost", "buying", "buy",
}  # fmt: skip


_PAID_FIRST = ("ankauf", "einkauf", "inkoop", "aankoop", "inkop", "indkob", "kop", "einstand")


def unread_by_cells(sources: Sequence[Source], table: str, columns: Collection[str]) -> list[tuple[str, Source]]:
    """Return the columns of a file that are named as ones of ours, and whose cells are none that can be read so."""
    found = []
    for source in sources:
        for column in columns:
            phrases = [phrase for phrase in HEADINGS[table].get(column, ()) if phrase not in _WEAK]
            named, _ = _named(phrases, source)
            if source.filled and named >= _EXACT and _looks(table, column, source, lambda _: False, True)[0] < 0:
                found.append((column, source))
                break
    return found


def _less_a_car(table: str, source: Source) -> float | None:
    """Return how much less a heading says that a column numbers the cars; None where its cells do not."""
    spellings = source.headings[0].split("|")
    less = 0.0
    if table == "repairs" and source.filled and _vin_looks(source.filled, False) > 0:
        less += 1  # the stock number, where both are there
    if any(spelling in PLATES for spelling in spellings):
        less += 1  # so of a number plate
    if any(spelling in _BARE_NUMBERS for spelling in spellings):
        less += 0.5
        if all(len(cell) < _SHORTEST_BARE for cell in source.filled):
            return None  # it counts scans, or rows
    if any(spelling in _UNITS for spelling in spellings):
        less += 0.5
        if not source.filled or all(map(_ADDRESS.fullmatch, source.filled)):
            return None  # the addresses of control units
    return None if _only_counts(source) else less


def _is_of_another(column: str, source: Source, named: float) -> bool:
    """Say whether a heading tells of something else than its words alone do."""
    if column == "asking_price":
        return _is_paid(source.name)
    if column == "job":
        # The plate of an order's car, or a kind of job: Job type.
        return (named == _ABOVE and _numbers_a_car(source)) or _says_works(source)
    return column == "vehicle" and _numbers_a_job(source)


def _is_paid(heading: str) -> bool:
    """Say whether a heading is that of a price that the dealer himself pays."""
    words = folded(heading).split()
    return bool(_PAID & {*words}) or any(word.startswith(_PAID_FIRST) for word in words)


def _says_works(source: Source) -> bool:
    """Say whether the cells of a column tell what was done, whatever its heading says."""
    return bool(source.filled) and _action_looks(source.filled, False) == _CELLS


def _numbers_a_job(source: Source) -> bool:
    """Say whether a path ends in a bare word for a number and what stands above it is a job: ``order[].number``."""
    names = [{*spellings.split("|")} for spellings in source.headings[:2]]
    return len(names) > 1 and bool(names[0] & _ANY_NUMBER) and bool(names[1] & {*HEADINGS["repairs"]["job"]})


def _names_cars(source: Source) -> bool:
    """Say whether a path leads to names of an object that are like numbers of cars; bare numbers in the outermost."""
    if not source.name.endswith("{}.name"):
        return False
    outermost = source.name.count("{}") == 1 and "[]" not in source.name
    return all(map(_CAR.fullmatch, source.filled)) or (outermost and all(map(_BARE_NUMBER.fullmatch, source.filled)))


_BARE_NUMBER = re.compile(r"\d{3,6}")


def _numbers_a_car(source: Source) -> bool:
    """Say whether a path ends in a word for a car, or for its number, that is no bare word for any number."""
    last = {*"|".join(source.headings[:1]).split("|")}
    return not last & _ANY_NUMBER and bool(last & {*HEADINGS["repairs"]["vehicle"], *HEADINGS["scans"]["vin"]})


def _only_counts(source: Source) -> bool:
    """Say whether a column counts the rows, 1, 2, 3 and so on: no number of a car."""
    cells = [cell.strip().rstrip(".") for cell in source.cells if cell.strip()]
    return len(cells) > 2 and cells == [
        str(number) for number in range(int(cells[0] == "1"), len(cells) + int(cells[0] == "1"))
    ]


def numbers_each_row(source: Source) -> bool:
    """Say whether a column has letters and digits like ``W210`` in every row, no two alike: numbers of cars."""
    cells = [cell.strip() for cell in source.cells]
    alike = len({re.sub(r"\d", "0", cell) for cell in cells}) <= max(2, 0.3 * len(cells))
    return len(cells) > 1 and len({*cells}) == len(cells) and alike and all(map(_STOCK_NUMBER.fullmatch, cells))


_STOCK_NUMBER = re.compile(r"[A-Z]{1,4}[ /-]?\d{2,6}")


def _has_distance(source: Source) -> bool:
    """Say whether a heading names a unit of distance, and no other distance than a car's whole one."""
    plain = folded(source.name)
    numbers = sorted(int(digits) for cell in source.filled if (digits := re.sub(r"\D", "", cell)))
    large = bool(numbers) and numbers[len(numbers) // 2] > _FAR
    named = _ODOMETER_UNITS & {*units_of(source.name)} or _DISTANCE_INSIDE.search(plain)
    return bool(named) and large and not ANOTHER_DISTANCE.search(plain)


def _named(phrases: Sequence[str], source: Source) -> tuple[float, str]:
    best, why = 0.0, ""
    cars = phrases in _CARS
    for depth, heading in enumerate(source.headings):
        for spelling in heading.split("|"):
            if spelling in phrases or (
                depth == 0 and (_both_named(phrases, source.name) or (cars and numbers_cars(spelling)))
            ):
                found: float = _EXACT if depth == 0 else _ABOVE
            elif any(f" {phrase} " in f" {spelling} " for phrase in phrases if phrase not in _WEAK) or (
                depth == 0 and _shortened(phrases, source.name)
            ):
                found = _PART if depth == 0 else _ABOVE / 2
            elif depth == 0 and " " not in spelling and _ends_with_one(phrases, spelling):
                found = _ABOVE
            else:
                continue
            if found > best:
                best, why = found, f"the heading {source.name!r}"
    return best, why


def _shortened(phrases: Sequence[str], name: str) -> bool:
    """Say whether a heading is a known name of some words, with words of it cut off at a point: ``Nr wewn.``."""
    words = [(folded(word), word.endswith(".")) for word in name.split()]
    if len(words) < _FEWEST_WORDS or not any(cut for _, cut in words):
        return False
    for phrase in phrases:
        whole = phrase.split()
        if len(whole) == len(words) and all(
            word == full or (cut and len(word) > 1 and full.startswith(word))
            for (word, cut), full in zip(words, whole, strict=True)
        ):
            return True
    return False


def _ends_with_one(phrases: Sequence[str], word: str) -> bool:
    """Say whether a word is a compound whose last part names a column: ``angebotspreis``, ``waarnemingsdatum``."""
    parts = (phrase for phrase in phrases if phrase in _LAST_PARTS and len(word) > len(phrase) + 2)
    return any(word.endswith(part) for part in parts)


_LAST_PARTS = {
    "preis", "prijs", "datum", "nummer", "kilometer", "kilometerstand", "zeit", "minuten", "stand", "code", "codes",
    "fehler", "fout", "storing", "steuergerat", "modul", "teil", "onderdeel", "arbeit", "werkzaamheden", "lieferant",
    "leverancier", "pris", "dato",
}  # fmt: skip
_FEWEST_WORDS = 2
_CARS = [columns["vehicle"] for columns in HEADINGS.values() if "vehicle" in columns]


def names_a_car(heading: str) -> bool:
    """Say whether a heading is one of a column that names the car of a scan, by whatever number."""
    source = Source(heading, ())
    return any(_named(HEADINGS["scans"][column], source)[0] >= _EXACT for column in ("vehicle", "vin"))


def _both_named(phrases: Sequence[str], name: str) -> bool:
    """Say whether a heading is two names of one column with a slash between: ``Reg/Stock``."""
    parts = [folded(part) for part in name.split("/")]
    return len(parts) > 1 and all(part in phrases for part in parts)


def _looks(table: str, column: str, source: Source, is_module: IsModule, named: bool) -> tuple[float, str]:
    """Return how much the cells speak for a column, below 0 where they rule it out, and what they look like."""
    cells = source.filled
    if not cells:
        return (0, "") if named else (-1, "")
    kind = next(found.kind for found in LAYOUTS[table].mappable if found.name == column)
    looks = _BY_COLUMN.get(column) or _BY_KIND.get(kind)
    if column == "module":
        found = _module_looks(cells, is_module)
    elif looks is not None:
        found = looks(cells, named)
    else:
        found = 0 if named else -1
    if column == "check_minutes" and in_hours(source.name):
        found = -1  # only the time of work is turned into minutes by a mapping
    return found, f"cells like {cells[0]!r}" if found > 0 else ""


def in_hours(heading: str) -> bool:
    """Say whether a heading names hours, as a unit or by itself."""
    words = folded(heading).split()
    return "h" in units_of(heading) or bool({*words} & _HOURS) or any(word.endswith(_HOURS_BEHIND) for word in words)


_HOURS_BEHIND = ("uren", "stunden", "timmar", "timer")
_HOURS = {
    "h", "hrs", "hr", "hour", "hours", "std", "stunden", "stunde", "heure", "heures", "hora", "horas", "ora", "ore",
    "uur", "uren", "godz", "godzin", "godziny", "timmar", "timme", "tim", "timer", "hod", "hodin", "hodiny",
}  # fmt: skip


def _module_looks(cells: Sequence[str], is_module: IsModule) -> float:
    known = sum(map(is_module, cells)) / len(cells)
    if coded_share(cells) >= _ENOUGH or (not known and all(map(looks_like_number, cells))):
        return -1
    return _CELLS if known >= _ENOUGH else 0


def _date_looks(cells: Sequence[str], named: bool) -> float:
    # A dash stands where there is no day.
    cells = [cell for cell in cells if not named or NO_DAY.fullmatch(cell) is None]
    if not cells:
        return 0  # no car was sold so far
    fits = date_guess(cells, serial=named).form is not None or (named and forms_together(cells) is not None)
    if fits and not named and all(map(_MOMENT.fullmatch, cells)):
        return _CELLS - 1  # seconds or milliseconds since 1970, of this century
    return _CELLS if fits and (named or not cells[0].isdigit()) else -1


def _code_looks(cells: Sequence[str], named: bool) -> float:
    if coded_share(cells) >= _ENOUGH:
        return _CELLS + 1
    told = [cell for cell in cells if not says_nothing(cell)]
    if told and all(map(_SIX_HEX.fullmatch, told)) and (named or all(cell[:2].lower() == "0x" for cell in told)):
        return _CELLS  # asked about: three bytes, or numbers of the maker's own
    # A maker's own numbers are codes where the heading says so: all as long, with zeros in front.
    numbers = bool(told) and all(map(_MAKERS_OWN.fullmatch, told)) and len({*map(len, told)}) == 1
    return _CELLS if named and numbers else -1


def _action_looks(cells: Sequence[str], named: bool) -> float:
    cells = [work for cell in cells for work in works_in(cell)]
    known = sum(known_in(ACTIONS, cell) is not None for cell in cells) / len(cells)
    if known >= _ENOUGH:
        return _CELLS
    if len(cells) > 2 and verbs_of(cells) is not None:
        return _CELLS - 1 if named else _CELLS - 2
    return 0 if named else -1


def _vin_looks(cells: Sequence[str], named: bool) -> float:
    whole = all(FULL_VIN.fullmatch("".join(cell.split()).upper()) for cell in cells)
    return _CELLS if whole else _CELLS - 1 if holds_vins(cells) else 0 if named else -1


def holds_vins(cells: Sequence[str]) -> bool:
    """Say whether each of some cells holds one vehicle number among words: make, model, a place."""
    return bool(cells) and all(len(set(re.findall(VIN_INSIDE, cell))) == 1 for cell in cells)


def _unit_looks(cells: Sequence[str], _: bool) -> float:
    return _CELLS + 2 if {cell.lower() for cell in cells} <= _ODOMETER_UNITS else -1


def _byte_looks(cells: Sequence[str], named: bool) -> float:
    return 0 if named and all(map(_HEX_BYTE.fullmatch, cells)) else -1


def _odometer_looks(cells: Sequence[str], named: bool) -> float:
    units = unit_behind(cells) & _ODOMETER_UNITS
    share = sum(map(looks_like_number, cells)) / len(cells)
    return -1 if share < _MOSTLY or not (named or units) else _CELLS if units else 1


def _number_looks(cells: Sequence[str], named: bool) -> float:
    cells = [cell for cell in cells if NO_DAY.fullmatch(cell) is None] or cells  # a dash stands where there is none
    return 0 if named and sum(map(looks_like_number, cells)) >= _MOSTLY * len(cells) else -1


def _year_looks(cells: Sequence[str], named: bool) -> float:
    if not named:
        years = len({*cells}) > 2 and all(map(_YEAR_OF_A_CAR.fullmatch, cells))
        return _CELLS - 1 if years else -1
    return max(_number_looks(cells, named), 0 if dates_with_years(cells) else -1)


def dates_with_years(cells: Sequence[str]) -> bool:
    """Say whether some cells are days or months of four-digit years: when cars were first registered."""
    return bool(cells) and all(re.fullmatch(YEAR_OF_A_DATE, cell.strip()) for cell in cells)


YEAR_OF_A_DATE = r"(?:\d{1,2}[./-])*((?:19|20)\d{2})(?:[./-]\d{1,2})*(?:[ T]00:00(?::00)?)?"
"""The pattern of a day or month with its year."""


def _minutes_looks(cells: Sequence[str], named: bool) -> float:
    written = (minutes_in(cell) for cell in cells)
    numbers = ("0" if minutes is not None else cell for cell, minutes in zip(cells, written, strict=True))
    return _number_looks([re.sub(r"^(\d+):(\d\d)(?::00)?$", r"\1.\2", cell) for cell in numbers], named)


def _text_looks(cells: Sequence[str], named: bool) -> float:
    return -1 if not named or coded_share(cells) >= _ENOUGH or all(map(looks_like_number, cells)) else 0


def _vehicle_looks(cells: Sequence[str], named: bool) -> float:
    """Rule out names: two cars of one model are two, and a name as a car's own number would make one car of them."""
    if all(FULL_VIN.fullmatch(cell.upper()) for cell in cells):
        return _CELLS - 1  # what names a car and nothing else, whatever its heading
    numbered = sum(any(map(str.isdigit, cell)) for cell in cells)
    return 0 if named and numbered > (1 - _MOSTLY) * len(cells) else -1


def _part_looks(cells: Sequence[str], named: bool) -> float:
    if sum(map(looks_like_number, cells)) > _ENOUGH * len(cells) or all(map(looks_like_date, cells)):
        return -1
    return -1 if not named or all(map(looks_like_number, cells)) else 0


def _position_looks(cells: Sequence[str], named: bool) -> float:
    """Rule out numbers of rows: ``10``, ``20``, ``30`` are no place on a car; one digit may be a cylinder."""
    return -1 if not named or all(looks_like_number(cell) and len(cell) > 1 for cell in cells) else 0


def _status_looks(cells: Sequence[str], named: bool) -> float:
    known = sum(known_in(STATUS, cell) is not None for cell in cells) / len(cells)
    if known >= _OFTEN:
        return _CELLS + 3  # what the cells say outweighs a heading whose cells say nothing that is known
    if tells_kind_of_scan(cells) or _tells_answers(cells):
        return -1
    if all(map(_HEX_BYTE.fullmatch, cells)):
        return 1 if named else -1
    return -1 if not named or all(map(looks_like_number, cells)) else 0


def _tells_answers(cells: Sequence[str]) -> bool:
    """Say whether some cells say of modules whether they answered, and one that it did not: no state of a code."""
    silent = [cell for cell in cells if SILENT.search(cell)]
    return bool(silent) and all(cell in silent or says_answered(cell) or NO_CODES.fullmatch(cell) for cell in cells)


_Looks = Callable[[Sequence[str], bool], float]
_BY_COLUMN: dict[str, _Looks] = {
    "code": _code_looks,
    "status": _status_looks,
    "action": _action_looks,
    "odometer": _odometer_looks,
    "odometer_unit": _unit_looks,
    "failure_type": _byte_looks,
    "text": _text_looks,
    "part": _part_looks,
    "position": _position_looks,
    "vehicle": _vehicle_looks,
    "plate": _vehicle_looks,
    "model_year": _year_looks,
    "labour_minutes": _minutes_looks,
}
_BY_KIND: dict[str, _Looks] = {
    "vin": _vin_looks,
    "number": _number_looks,
    "integer": _number_looks,
    **dict.fromkeys(("datetime", "date", "day or time"), _date_looks),
}


def named_visits(sources: Sequence[Source], is_module: IsModule) -> bool:
    """Say whether some columns name a car and a day, and a part or what was done: rows of visits, no price book."""
    found = {guess.column for guess in guess_columns(sources, "repairs", is_module)}
    return bool(found & {"part", "action"}) and dated_cars(sources, is_module)


def dated_cars(sources: Sequence[Source], is_module: IsModule) -> bool:
    """Say whether some columns name a car and a day."""
    return all(days_and_cars(sources, is_module))


def days_and_cars(sources: Sequence[Source], is_module: IsModule) -> tuple[bool, bool]:
    """Say whether any of some columns names a day, and whether any names a car."""
    found = {guess.column for guess in guess_columns(sources, "repairs", is_module)}
    dated = any(source.filled and _date_looks(source.filled, False) > 0 for source in sources)
    cars = any(source.filled and _vin_looks(source.filled, False) > 0 for source in sources)
    return "done_at" in found or dated, "vehicle" in found or cars


def tells_kind_of_scan(cells: Sequence[str]) -> bool:
    """Say whether all of some cells tell of a scan whether it was made before or after the repair."""
    return all(KIND_OF_SCAN.fullmatch(folded(cell)) for cell in cells)


A_MARK = re.compile(r"[?!*#~.–—-]{1,6}")
"""A mere mark in place of a code, which the words beside it explain."""


def coded_share(cells: Sequence[str]) -> float:
    """Return the share of cells that begin with a code, of those that do not say that there is none."""
    told = [cell for cell in cells if looks_like_code(cell) or not (says_nothing(cell) or A_MARK.fullmatch(cell))]
    coded = sum(map(looks_like_code, told))
    if coded >= _SOME * len(told):
        # Among codes of five characters stand numbers of the maker's own.
        coded += sum(not looks_like_code(cell) and _NUMBERED.match(cell.strip()) is not None for cell in told)
    return coded / len(told) if told else 0.0


def says_nothing(cell: str) -> bool:
    """Say whether a cell says in words that there is no code, no answer, or nothing was read."""
    return any(pattern.search(cell) for pattern in (NO_CODES, SILENT, NOT_READ))


def looks_like_code(cell: str) -> bool:
    """Say whether a cell begins with a code of five characters."""
    first = re.split(r"[;|,+/\s]", cell.strip(), maxsplit=1)[0].rstrip(":")
    if not first or first[0].upper() not in "PCBU":
        return False
    return read_code(first).why is None or (" " in cell and _SPACED_CODE.match(cell.strip()) is not None)


def holds_code(cell: str) -> bool:
    """Say whether a code stands anywhere in a cell."""
    return re.search(LIKE_A_CODE, cell) is not None
