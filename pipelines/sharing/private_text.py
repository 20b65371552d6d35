"""What must not go out in a text that people wrote freely: struck by kind, and by the dealer's own lists.

By kind go mail and web addresses, phone numbers, vehicle numbers, plates, bank accounts, long numbers, addresses, and
the names behind words such as customer or Mr.  By list go stock numbers, jobs, suppliers, notes, file names and
what the dealer's own ``private.txt`` names, of any length, whatever stands between their words and however they are
capitalised or accented.  Wordings of the shipped vocabulary are left whole.

A pattern strikes too much rather than too little: these texts are shown and never computed with.  What is left is told
by ``left_over``, for people to look at; no list of patterns is complete.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

ELLIPSIS = "…"
_WORD = re.compile(r"[^\W_]+")
_FORMULA_START = " =+-@\t\r\n\x00＝＋－＠"
_LONGEST_NAME_WORDS = 8
_SHORTEST_PART = 3
_DIGITS_OF_A_PHONE = range(5, 17)
_DIGITS_OF_A_VIN = 4
_VIN_TAILS = (6, 7, 8)
# Parts of a supplier's name that are words like any other.
_COMMON = frozenset(
    [
        "and",
        "the",
        "of",
        "for",
        "at",
        "by",
        "in",
        "on",
        "to",
        "from",
        "und",
        "der",
        "die",
        "das",
        "von",
        "vom",
        "bei",
        "mit",
        "fuer",
        "für",
        "co",
        "gmbh",
        "ag",
        "kg",
        "ohg",
        "ltd",
        "limited",
        "inc",
        "llc",
        "sons",
        "daughters",
        "brothers",
        "parts",
        "auto",
        "autos",
        "car",
        "cars",
        "garage",
        "service",
        "motor",
        "motors",
        "shop",
        "supply",
        "supplies",
        "trade",
        "trading",
        "teile",
        "werkstatt",
        "handel",
        "autoteile",
        "dealer",
        "workshop",
        "company",
    ]
)
_CODE = re.compile(r"[PCBUpcbu][0-9A-Fa-f]{4}(?:-?[0-9A-Fa-f]{2})?")
# Words behind which a number is no plate, although it looks like one: units and what scan tools print.
_UNITS = frozenset(
    {"RPM", "KMH", "MPH", "PSI", "BAR", "MIL", "VDC", "MBAR", "KPA", "HZ", "KHZ", "MHZ", "VOLT", "NM", "CC", "CM", "MM"}
    | {"KM", "DTC", "VIN", "PID", "OBD", "CAN", "LIN", "ECU", "ABS", "SRS"}
)

# What may stand before a person's name: titles, and what people are to a dealer, in the languages that exports come in.
_TITLES = (
    r"mr|mrs|ms|miss|mx|dr|prof|herrn?|frau|hr|fr|mme|mlle|monsieur|madame|sig|signor[ae]?|señora?|sr|sra|pan|pani|mevr|"
    r"dhr|customer|client|owner|driver|buyer|seller|previous owner|contact|kunde|kundin|fahrer(?:in)?|halter(?:in)?|"
    r"besitzer(?:in)?|eigent[uü]mer(?:in)?|k[aä]ufer(?:in)?|verk[aä]ufer(?:in)?|klant|eigenaar|cliente|propri[eé]taire"
)
_PERSON = re.compile(rf"(?<!\w)(?i:{_TITLES})\b[.:]?\s+(?P<name>[^\W\d_][\w'’-]*\.?(?:\s+[A-ZÀ-Þ][\w'’-]*\.?){{0,3}})")
_STREET_WORDS = r"stra(?:ß|ss)e|str\.|weg|gasse|allee|platz|ring|damm|ufer|chaussee"
_STREETS = r"street|st\.?|road|rd\.?|lane|ln\.?|avenue|ave\.?|drive|close|court|way|square|row|boulevard|blvd\.?"
_PLATES = (
    r"[A-ZÄÖÜ]{1,3}[-–][A-Z]{1,2}[ -]?\d{1,4}[EH]?",  # DE, also AT in part
    r"[A-ZÄÖÜ]{1,3} [A-Z]{1,2} \d{2,4}[EH]?",  # DE with blanks
    r"[A-Z]{1,2}[- ]?\d{2,5}[- ]?[A-Z]{1,3}",  # AT, IT, FR with two letters, DE of old kinds
    r"[A-Z]{2}\d{2}[ -]?[A-Z]{3}",  # GB
    r"[A-Z]\d{1,3}[ -]?[A-Z]{3}",  # GB of before 2001
    r"[A-Z]{2}[- ]\d{3}[- ][A-Z]{2}",  # FR
    r"\d{2}[- ][A-Z]{2,3}[- ]\d{1,2}",  # NL, PT
    r"[A-Z]{1,2}[- ]\d{2,3}[- ][A-Z]{1,2}",  # NL
    r"\d[- ][A-Z]{3}[- ]\d{2}|\d{2}[- ][A-Z]{2}[- ][A-Z]{2}|[A-Z]{2}[- ][A-Z]{2}[- ]\d{2}|[A-Z]{2}[- ]\d{2}[- ]\d{2}",
    r"\d{4}[- ]?[B-DF-HJ-NP-TV-Z]{3}",  # ES
    r"[A-Z]{2,3}[- ]?\d{4,5}[A-Z]?|[A-Z]{2}[- ]?\d[A-Z]\d{3}",  # PL, CZ, CH
    r"\d[A-Z]\d[- ]?\d{4}",  # CZ
    r"[A-Z]{2}[- ]\d{1,3}[ .']?\d{3}",  # CH, DK
    r"[A-Z]{3}[- ]?\d{2}[A-Z0-9]",  # SE, FI, HU
    r"[A-Z]{2}[- ]?\d{2}[- ]?\d{3}",  # DK
    r"\d[A-Z]{3}\d{3}|[A-Z]{3}[- ]\d{3,4}",  # US
    r"\d[- ][A-Z]{3}[- ]\d{3}",  # BE
)
_PLATE = re.compile(rf"(?<![\w-])(?:{'|'.join(_PLATES)})(?![\w-])")
_NAMED_PLATE = re.compile(
    r"(?<!\w)(?i:(?:number |licen[cs]e )?plates?|reg(?:istration|\.)?(?: (?:no|number)\.?)?|kennzeichen|kfz|kenteken|"
    r"immatriculation|targa|matr[ií]cula)\b\W{0,3}(?P<name>(?=[\w -]{0,6}\d)[A-Za-zÄÖÜäöü0-9]{1,7}"
    r"(?:[ -]?(?=\w{0,4}\d|[A-Z]{1,3}\b)[A-Za-z0-9]{1,5}){0,3})"
)
_KINDS: tuple[tuple[str, re.Pattern[str]], ...] = (
    (
        "mail address",
        re.compile(
            r"[\w.+%-]+\s?(?:@|＠|[(\[{]\s?(?:at|ät)\s?[)\]}])\s?[\w-]+(?:\s?(?:\.|[(\[{]\s?(?:dot|punkt)\s?[)\]}])\s?"
            r"[\w-]+)+|(?<!\w)[\w+-]+(?:\.[\w+-]+)* at [\w-]+(?: dot [\w-]+| punkt [\w-]+|\.[a-z]{2,6}\b)+",
            re.IGNORECASE,
        ),
    ),
    ("web address", re.compile(r"(?:https?://|www\.)\S+|(?<!\w)@\w{3,}", re.IGNORECASE)),
    ("bank account", re.compile(r"(?<!\w)[A-Z]{2}\d{2}(?:[ -]?[A-Z0-9]{4}){3,7}(?:[ -]?[A-Z0-9]{1,3})?(?!\w)")),
    (
        "vehicle number",
        re.compile(r"(?<![^\W_])(?:[A-HJ-NPR-Z0-9][ ._-]?){16}[A-HJ-NPR-Z0-9](?![^\W_])", re.IGNORECASE),
    ),
    (
        "phone number",
        re.compile(
            r"(?<!\w)(?i:tel(?:e(?:ph|f)on)?|phone|call(?:ed)?|mob(?:ile?|il)?|cell|handy|fax|whatsapp|sms|ring|rang|ruf)"
            r"[.:]?\W{0,3}(?:(?:no|nr|number|back|on)\.?\W{0,3})?(?P<name>\+?\(?\d[\d ()/.–-]{2,}\d)|"
            r"(?<![\w.])(?:\+|00)\(?\d[\d ()/.–-]{5,}\d(?!\w)|"
            r"(?<![\w.,-])\(?0\d{1,5}\)?[ /.–-]{0,3}\d[\d /.–-]{2,}\d(?![\w%])|"
            r"(?<![\w.-])(?:1[ .-])?\(?\d{3}\)?[ .-]\d{3}[ .-]\d{4}(?!\w)|"
            r"(?<![\w.-])\d{2,3}(?:[ .]\d{2,3}){2,4}(?!\w)"
        ),
    ),
    ("plate", _NAMED_PLATE),
    ("plate", _PLATE),
    ("long number", re.compile(r"(?<![\w.])\d{6,}(?![\w.]\d)")),
    (
        "address",
        re.compile(
            rf"(?<!\w)[^\W\d_][\w.-]*(?i:{_STREET_WORDS})\s?\d+\s?[a-z]?(?!\w)|"
            rf"(?<!\w)[A-ZÄÖÜ][\w-]+ (?:{_STREET_WORDS.title()})\s?\d+\s?[a-z]?(?!\w)|"
            rf"(?<!\w)\d+[a-z]?,? (?:[A-Z][\w'’-]+ ){{1,3}}(?i:{_STREETS})(?!\w)"
        ),
    ),
    ("person", _PERSON),
)


class PrivateText:
    """Finds what must not go out in texts, and counts what it struck.

    Attributes:
        counts: How often each kind was struck; ``own list`` is what the dealer's lists name.
    """

    def __init__(
        self,
        names: Iterable[str],
        plain_words: Iterable[str] = (),
        *,
        people: Iterable[str] = (),
        texts: Iterable[str] = (),
        vocabulary: Iterable[str] = (),
    ) -> None:
        """Look for names of any length.

        Args:
            names: What must not go out: stock numbers, vehicle numbers, jobs, files.
            plain_words: What may go out although somebody is called so: parts, modules, makes.
            people: Suppliers and people, of whom each single word goes too, unless it is a common one.
            texts: What the dealer's people wrote, notes for instance: who is named in them is looked for everywhere.
            vocabulary: Wordings that ship with the program; they are left whole.
        """
        shipped = list(vocabulary)
        plain = list(plain_words)
        self.counts: Counter[str] = Counter()
        self._whole = {_squeezed(wording) for wording in shipped}
        self._known = {
            word.casefold() for wording in shipped for word in _WORD.findall(wording) if len(word) >= _SHORTEST_PART
        }
        allowed = {_squeezed(word) for word in plain} | self._whole
        called = list(people)
        for text in texts:
            called += [found["name"] for found in _PERSON.finditer(_plain(text))]
        parts = {
            word
            for name in called
            for word in _WORD.findall(_plain(name))
            if len(word) >= _SHORTEST_PART and word.casefold() not in self._known | _COMMON
        }
        listed = {form for name in [*names, *called, *parts] for form in _forms(name)}
        self._names = {name for name in listed if name} - allowed

    def struck(self, text: str) -> str:
        """Return a text with everything private in it replaced by ``…``, without a start that a spreadsheet runs."""
        said = _plain(text)
        if _squeezed(said) in self._whole:
            return said
        for kind, pattern in _KINDS:
            said = pattern.sub(lambda found, kind=kind: self._of_kind(kind, found), said)  # type: ignore[misc]
        return self._without_names(said).lstrip(_FORMULA_START)

    def _of_kind(self, kind: str, found: re.Match[str]) -> str:
        whole = found[0]
        name = found.groupdict().get("name") or whole
        words = _WORD.findall(name)
        if kind == "person":
            # A known word behind "driver" is no name: driver door module.
            kept = next((place for place, word in enumerate(words) if word.casefold() in self._known), len(words))
            if not kept:
                return whole
            name = re.match(rf"(?:[\W_]*[^\W_]+){{{kept}}}", name)[0]  # type: ignore[index]
        elif self._is_no(kind, name, words):
            return whole
        self.counts[kind] += 1
        return whole.replace(name, ELLIPSIS, 1)

    def _is_no(self, kind: str, name: str, words: list[str]) -> bool:
        """Tell whether something only looks like its kind."""
        digits = sum(letter.isdigit() for letter in name)
        if kind == "plate":
            return bool(_CODE.fullmatch(name)) or self._is_known_with_number(words)
        if kind == "phone number":
            return digits not in _DIGITS_OF_A_PHONE
        if kind == "vehicle number":
            # A sentence of short words can have as many letters.
            return digits < _DIGITS_OF_A_VIN or min(map(len, words)) < _SHORTEST_PART
        return False

    def _is_known_with_number(self, words: list[str]) -> bool:
        """Tell whether what looks like a plate is a word or unit that is known, beside a number."""
        letters = [word for word in words if word.isalpha()]
        return bool(letters) and all(word.casefold() in self._known or word.upper() in _UNITS for word in letters)

    def _without_names(self, text: str) -> str:
        words = list(_WORD.finditer(text))
        said, at, first = [], 0, 0
        while first < len(words):
            last = self._name_from(words, first)
            if last is None:
                first += 1
                continue
            self.counts["own list"] += 1
            said += [text[at : words[first].start()], ELLIPSIS]
            at, first = words[last].end(), last + 1
        return "".join([*said, text[at:]])

    def _name_from(self, words: list[re.Match[str]], first: int) -> int | None:
        """Return the last word of the longest name that begins with a word, or None."""
        for last in range(min(len(words), first + _LONGEST_NAME_WORDS) - 1, first - 1, -1):
            together = "".join(word[0] for word in words[first : last + 1])
            if not self._names.isdisjoint(_forms(together)):
                return last
        return None

    def left_over(self, texts: Mapping[str, int]) -> Iterator[tuple[str, str, int]]:
        """Yield what of texts that go out is in no list that ships with the program, for people to look at.

        Args:
            texts: Each wording that goes out, with the number of rows that have it.

        Yields:
            The word or number, why it is told, and in how many rows it stands; what stands in fewest rows first.
        """
        rows: Counter[str] = Counter()
        for text, count in texts.items():
            if _squeezed(text) not in self._whole:
                rows.update(dict.fromkeys(_WORD.findall(text), count))
        for word, count in sorted(rows.items(), key=lambda pair: (pair[1], pair[0])):
            if _CODE.fullmatch(word) or word.casefold() in self._known:
                continue
            if word.isdigit():
                if len(word) > 2:
                    yield word, "number", count
            elif any(letter.isdigit() for letter in word):
                yield word, "letters and digits", count
            elif len(word) > 1:
                yield word, "name or word that is in no list", count


def _plain(text: str) -> str:
    """Return a text without what hides letters: full-width forms, invisible signs, odd hyphens and blanks."""
    folded = unicodedata.normalize("NFKC", text)
    shown = "".join(letter for letter in folded if unicodedata.category(letter) != "Cf")
    return re.sub(r"[‐‑‒−]", "-", shown)


def _squeezed(name: str) -> str:
    return "".join(_WORD.findall(_plain(name))).casefold()


_SPREAD = {
    ord(sign): letters for sign, letters in zip("äöüøåæłđ", ("ae", "oe", "ue", "oe", "aa", "ae", "l", "d"), strict=True)
}


def _forms(name: str) -> set[str]:
    """Return how a name may be written without its marks: as it is, without accents, umlauts as two letters."""
    whole = _squeezed(name)
    if whole.isascii():
        return {whole}
    spread = whole.translate(_SPREAD)
    single = whole.translate(str.maketrans("øæłđ", "oald"))
    return {whole, _bare(single), _bare(spread)}


def _bare(text: str) -> str:
    return "".join(letter for letter in unicodedata.normalize("NFKD", text) if not unicodedata.combining(letter))


def tails(vins: Iterable[str]) -> Iterator[str]:
    """Yield the ends by which people name vehicle numbers: their last six, seven and eight signs."""
    for vin in vins:
        yield from (vin[-length:] for length in _VIN_TAILS if len(vin) > length)
