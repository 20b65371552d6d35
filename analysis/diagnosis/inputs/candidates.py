"""Which parts, and in which places, can be to blame at all?

The price book and the dealer's own repairs name the parts.  A part in two places
is two candidates: the places come from the repairs, and from the codes where they
name one.  A dealer with neither book nor repairs starts from the component words
of the generic code table.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product

import polars as pl

from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.diagnosis.inputs.text_matching import (
    AXES,
    Reader,
    Wording,
    alternatives,
    names,
    place_words,
    places_agree,
    read_wording,
)

NO_PART = frozenset(("reporting module",))
"""Component words that name no part one could fit."""


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A part in a place; ``wordings`` are its name and synonyms, money in cents, times in minutes.

    ``opening`` names what must come off first, which several parts may share; its minutes are beside those of fitting.
    How often a check misses and cries wolf are shares, None where the price book does not say.
    """

    part: str
    position: str
    wordings: tuple[Wording, ...]
    part_cents: int | None
    labour_minutes: float | None
    check_minutes: float | None
    action: str
    opening: str = ""
    opening_minutes: float | None = None
    check_misses: float | None = None
    check_false_alarms: float | None = None

    @property
    def key(self) -> tuple[str, str]:
        """The part and its place, the identity of a candidate."""
        return self.part, self.position

    @property
    def label(self) -> str:
        """The part and its place in one text."""
        return f"{self.part} {self.position}".strip()


def list_candidates(
    frames: DiagnosisFrames, reader: Reader, elsewhere: Iterable[tuple[str, str]] = ()
) -> list[Candidate]:
    """Return every candidate, sorted by part and position.

    Args:
        frames: The facts; ``parts`` may be empty.
        reader: Reads texts in the words of the trade.
        elsewhere: Part and position of further places in which a part is known to be.

    Returns:
        Candidates of the known parts; where none is known, those of the codes' component words, without cost.
    """
    seen = _seen_places(frames)
    for part, position in elsewhere if not frames.parts.is_empty() else ():
        seen.setdefault(part, set()).add(position)
    texts = sorted(set(code_texts(frames.codes).values()))
    if frames.parts.is_empty() and not seen:
        return _from_components(texts, reader)
    repaired, cylinders = _repaired(frames.job_parts), _cylinders(seen, texts)
    found = []
    for row in frames.parts.sort("part").iter_rows(named=True):
        spoken = [row["part"], *(s.strip() for s in (row["also_called"] or "").split(";") if s.strip())]
        wordings = tuple(reader.read(text) for text in spoken)
        for position in _places(wordings, seen.get(row["part"], set()), texts, cylinders, reader):
            found.append(
                Candidate(
                    part=row["part"], position=position, wordings=wordings, part_cents=row["part_cents"],
                    labour_minutes=row["labour_minutes"], check_minutes=row["check_minutes"],
                    action="repair" if row["part"] in repaired else "replace",
                    opening=row["opening"] or "", opening_minutes=row["opening_minutes"],
                    check_misses=row["check_misses"], check_false_alarms=row["check_false_alarms"],
                )
            )  # fmt: skip
    return sorted(found, key=lambda c: c.key)


def code_texts(codes: pl.DataFrame) -> dict[str, tuple[str, str]]:
    """Return each code's ``(text, component)``, blanks for nulls."""
    rows = codes.select("code", pl.col("text").fill_null(""), pl.col("component").fill_null("")).iter_rows()
    return {code: (text, component) for code, text, component in rows}


def _seen_places(frames: DiagnosisFrames) -> dict[str, set[str]]:
    known = frames.job_parts.filter(pl.col("part").is_not_null()).select("part", pl.col("position").fill_null(""))
    seen: dict[str, set[str]] = {}
    for part, position in known.unique().iter_rows():
        seen.setdefault(part, set()).add(position)
    for part, positions in frames.parts.select("part", "positions").iter_rows():
        seen.setdefault(part, set()).update(p.strip() for p in (positions or "").split(";") if p.strip())
    return {part: places for part, places in seen.items() if places}


def _cylinders(seen: dict[str, set[str]], texts: list[tuple[str, str]]) -> int:
    """The highest number of a cylinder that anything names."""
    told = [text for places in seen.values() for text in places] + [text for text, _ in texts]
    words = [word for text in told for word in read_wording(text).place if word.startswith("cylinder ")]
    return max((int(word.split()[1]) for word in words), default=0)


def _repaired(job_parts: pl.DataFrame) -> set[str]:
    shares = job_parts.group_by("part").agg((pl.col("action") != "replace").mean().alias("share"))
    return set(shares.filter(pl.col("share") > 0.5)["part"].drop_nulls().to_list())


def _places(
    wordings: tuple[Wording, ...], seen: set[str], texts: list[tuple[str, str]], cylinders: int, reader: Reader
) -> list[str]:
    """The places of one part: those of the repairs, those that codes name unless the dealer writes none, and beside."""
    if seen == {""} or wordings[0].place:
        return sorted(seen) or [""]
    known = [read_wording(place).place for place in seen]
    named = {place for text in texts if (place := _named_place(wordings, text, reader))}
    named = {place for place in named if not any(places_agree(place, other) for other in known)}
    found = seen | {place_words(place) for place in named}
    return sorted(found | {other for place in found for other in _beside(place, cylinders)}) or [""]


def _beside(place: str, cylinders: int) -> set[str]:
    """The places that there are beside one: both sides, both axles, all four wheels, every cylinder."""
    words = read_wording(place).place
    if any(word.startswith("cylinder ") for word in words):
        return {f"cylinder {number}" for number in range(1, cylinders + 1)}
    ways = [sorted(axis) for axis in AXES if axis & words]
    if not ways or len(ways) != len(words):
        return set()
    return {place_words(frozenset(way)) for way in product(*ways)}


def _named_place(wordings: tuple[Wording, ...], text: tuple[str, str], reader: Reader) -> frozenset[str]:
    place = reader.read(text[0]).place | reader.read(text[1]).place
    if not place:
        return place
    spoken = [reader.read(text[0]), *(reader.read(way) for way in alternatives(text[1]))]
    return place if any(names(part, said) for part in wordings for said in spoken) else frozenset()


def _from_components(texts: list[tuple[str, str]], reader: Reader) -> list[Candidate]:
    found = {}
    for _, component in texts:
        for way in alternatives(component):
            if way not in NO_PART:
                found[way] = Candidate(
                    part=way,
                    position="",
                    wordings=(reader.read(way),),
                    part_cents=None,
                    labour_minutes=None,
                    check_minutes=None,
                    action="replace",
                )
    return [found[way] for way in sorted(found)]
