"""Which part does a code's own text name?

"Wheel speed sensor front left" names the part *wheel speed sensor* in the place
*front left*.  Words are compared without case, plural and filler; a place named
by the text must not contradict the place of the part.
"""

import re
from dataclasses import dataclass
from functools import cache, lru_cache

import polars as pl

from analysis.vocabulary.part_kinds import TradeWords, kinds_agree

SIDES = {
    **dict.fromkeys(("front", "fore"), ("front",)),
    **dict.fromkeys(("rear", "back"), ("rear",)),
    "left": ("left",),
    "right": ("right",),
    **dict.fromkeys(("fl", "lf"), ("front", "left")),
    **dict.fromkeys(("fr", "rf"), ("front", "right")),
    **dict.fromkeys(("rl", "lr"), ("rear", "left")),
    **dict.fromkeys(("rr",), ("rear", "right")),
    **{word: (word,) for word in ("upper", "lower", "inner", "outer", "driver", "passenger")},
}
AXES = tuple(
    frozenset(pair.split()) for pair in ("front rear", "left right", "upper lower", "inner outer", "driver passenger")
)
FILLER = frozenset(
    ("a", "an", "and", "assembly", "complete", "for", "kit", "new", "of", "pair", "set", "the", "to", "with")
)
SAME = {
    "camshaft": "cam",
    "crankshaft": "crank",
    "headlight": "headlamp",
    "lambda": "oxygen",
    "o2": "oxygen",
    "tire": "tyre",
}
WIRING = "loom"
"""The kind of part that a text names only by its own kind."""
AMOUNTS = re.compile(
    r"^\s*\d+\s*(?:[x\u00d7]\s*|(?=[a-z ]*s\b))"  # 4 spark plugs, 2 x coil
    r"|\b\d{3}/\d{2}(?:\s?r\s?\d{2})?\b|\b\d+w-?\d+\b"  # 205/55 R16, 5W-30
    r"|\b\d+(?:[.,]\d+)?\s?(?:ah|amps?|kw|mm|ml|bar|inch|ohms?)\b|\b\d+[.,]?\d*[avwl]\b"  # 70 Ah, 12V
)
"""How many, how strong and how large: a battery of 70 Ah is a battery."""
APART = frozenset(("traction", "hv"))
"""A traction battery is no battery in the everyday sense: these words must stand on both sides."""


@dataclass(frozen=True)
class Wording:
    """What a text names.

    Attributes:
        thing: The words of a part.
        place: The words of a place.
        kind: The kind of part (sensor, relay), where one is told.
        silent: Words that name no part were left out of ``thing``.
    """

    thing: frozenset[str]
    place: frozenset[str]
    kind: str | None = None
    silent: bool = False


class Reader:
    """Reads what texts name, in the words of the trade: a lambda probe is an oxygen sensor."""

    def __init__(self, trade_words: pl.DataFrame | None = None):
        """Take the vocabulary.

        Args:
            trade_words: Rows of ``TradeWords.from_rows``; None or no row: every word stands for itself.
        """
        known = trade_words is not None and not trade_words.is_empty()
        self._words: TradeWords | None = None
        self._read: dict[str, Wording] = {}
        if trade_words is not None and known:
            self._words, self._read = _words_of(tuple(trade_words.iter_rows()))

    def read(self, text: str) -> Wording:
        """Return what a part's name or a code's text names."""
        if self._words is None:
            return read_wording(text)
        if text not in self._read:
            said = self._words.canonical(text)
            thing = read_wording(said.core).thing
            self._read[text] = Wording(
                thing, read_wording(text).place, said.kind, silent=thing != read_wording(said.text).thing
            )
        return self._read[text]


@lru_cache(maxsize=4)
def _words_of(rows: tuple[tuple[str, ...], ...]) -> tuple[TradeWords, dict[str, Wording]]:
    """Return a vocabulary and what was read in its words so far: every model of a run reads the same texts."""
    return TradeWords.from_rows(dict(zip(("kind", "word", "means"), row, strict=True)) for row in rows), {}


@cache
def read_wording(text: str) -> Wording:
    """Split a part's name or a code's text into words of the thing and words of the place.

    Args:
        text: Any wording, for instance ``"Wheel speed sensors, FL"``.

    Returns:
        Lower-case singular words without filler; ``cylinder 2`` is one word of the place.
    """
    flat = re.sub(r"\bcyl(?:inder)?\.?\s*(\d+)\b", r" cylinder\1 ", AMOUNTS.sub(" ", text.lower()))
    thing: set[str] = set()
    place: set[str] = set()
    for word in re.findall(r"[^\W_]+", flat):
        if word in SIDES:
            place.update(SIDES[word])
        elif re.fullmatch(r"cylinder\d+", word):
            place.add(f"cylinder {word[8:]}")
        elif word not in FILLER:
            thing.add(_singular(word))
    return Wording(frozenset(thing), frozenset(place))


def _singular(word: str) -> str:
    if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")):
        word = word[:-1]
    return SAME.get(word, word)


def names(part: Wording, text: Wording) -> bool:
    """Tell whether a text names a part.

    Args:
        part: The part's own wording.
        text: The code's wording.

    Returns:
        True where every word of the part stands in the text, or the other way round for a text of at least
        two words (a component such as ``fuel cap``); the places must not contradict each other, and the kinds have to
        be one: a relay is not the pump that it feeds.
    """
    return speaks_of(part, text) and places_agree(part.place, text.place)


def speaks_of(part: Wording, text: Wording) -> bool:
    """Tell whether a text names a part, whatever the places."""
    held = part.thing <= text.thing
    if not part.thing or not (held or text.thing <= part.thing) or (part.thing ^ text.thing) & APART:
        return False
    if held:
        return kinds_agree(part.kind, text.kind)
    short = len(text.thing) > 1 and not text.silent
    return short and (kinds_agree(part.kind, text.kind) or (text.kind is None and part.kind != WIRING))


def place_words(place: frozenset[str]) -> str:
    """Write a place as the trade does: front or rear before left or right."""
    return " ".join(sorted(place, key=lambda word: (word not in ("front", "rear"), word)))


@cache
def places_agree(one: frozenset[str], other: frozenset[str]) -> bool:
    """Tell whether two places can be the same: no front against rear, left against right, cylinder 2 against 3."""
    return all(not (one & axis and other & axis) or one & axis & other for axis in (*AXES, _cylinders(one | other)))


def _cylinders(place: frozenset[str]) -> frozenset[str]:
    return frozenset(word for word in place if word.startswith("cylinder "))


@cache
def alternatives(component: str) -> tuple[str, ...]:
    """Split a component of the generic table into the parts that it stands for.

    Args:
        component: For instance ``"boost hose / turbocharger"`` or ``"crank or cam sensor"``.

    Returns:
        One name per part in the order given; ``crank or cam sensor`` is a crank sensor and a cam sensor.
    """
    found = []
    for piece in component.split("/"):
        ways = [way.split() for way in re.split(r"\s+or\s+", piece.strip())]
        if len(ways) == 2 and len(ways[0]) == 1 < len(ways[1]):
            ways[0] = ways[0] + ways[1][1:]
        if len(ways) == 2 and len(ways[1]) == 1 < len(ways[0]):
            ways[1] = ways[0][:-1] + ways[1]
        found += [" ".join(way) for way in ways if way]
    return tuple(found)
