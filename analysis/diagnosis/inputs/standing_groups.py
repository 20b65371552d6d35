"""Which codes may be set together by something that is no part: equipment, a coding, a quirk of the line?

In the trade a good share of a page of codes is nobody's fault: an aftermarket radio, a tow bar.  Such a cause sets
the same few codes on one car after another, and they come back after every erase and every repair.  Here codes that
keep company on several cars are gathered into candidates for such a cause; whether they come back, and how often, is
for the fit to say.

Source:
    T. Singliar and M. Hauskrecht, "Noisy-OR component analysis and its application to link analysis", Journal of
    Machine Learning Research 7 (2006): hidden causes of a noisy-OR; the candidates from company kept are our own.
"""

from collections.abc import Iterable, Mapping
from typing import TypeVar

import networkx as nx
import numpy as np
import polars as pl

from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.diagnosis.inputs.training_data import Bools, Floats, Visits, known_make
from analysis.evidence.clusters import CLEARED

Code = TypeVar("Code", int, str)
Car = TypeVar("Car", int, str)
FEWEST_CARS = 2
"""On one car alone nothing tells equipment from a fault that nobody found."""
COMPANY = 0.5
"""Codes keep company where this share of the cars with either has both (Jaccard)."""
SELDOM = 0.15
"""A standing cause is not ended by work: of the outcomes that are known at most this share is a clear.  On invented
dealers equipment was gone after 0 of 9 to 0 of 69 jobs, every other code after 3 in 10 or more: half of that leaves
room for a misread scan."""
SAME_NUMBER, SAME_TEXT = (1.0, 1.0), (3.0, 1.0)
"""What is believed, as counts for and against, of a maker's code and its namesake at another make: that both stand or
neither does, by their number alone, and where their texts are the same."""
ALIKE = 0.5
"""Namesakes are joined where they are likelier alike than not."""
TESTED = 2.0
"""A code whose outcome is known so often can tell whether namesakes are alike."""
SUPPLY = ("battery / alternator", "alternator / battery", "supply wiring / fuse")
"""Components of the standard codes that tell of a module's supply; the rest is read from the export's wording."""
LOW = r"\b(?:battery|system|supply|terminal 30)\b.*\bvoltage\b.*\b(?:low|under)|\b(?:under.?voltage|low voltage)\b"
SUPPLY_MODULES = 3
"""Low voltage is a cause of its own where the codes of so many modules tell of it (common practice, no source)."""
MOST_CODES = 8
"""A larger group is a page of codes, not one piece of equipment."""


def standing_groups(visits: Visits, frames: DiagnosisFrames, named: Bools) -> list[list[int]]:
    """Return groups of codes that keep company, as columns, each sorted; single codes of several cars among them.

    A code whose own text names a part is in none before that part was worked on in vain on several cars: one alone may
    have got a bad new one.

    Args:
        visits: The past visits: whether work ended the codes.
        frames: The facts: which cars showed them, those in stock too.
        named: (parts, codes) the code's text names the part.

    Returns:
        The groups, sorted, none of more than ``MOST_CODES`` codes.
    """
    held = _cars_with(frames, frames.outcomes, frames.open_codes)
    cleared, back = np.add(_ends(visits), _ends_looked_past(frames))
    seldom_cleared = cleared <= SELDOM * (cleared + back)
    may = seldom_cleared & ~(named.any(axis=0) & ~(named & _in_vain(visits)[: len(named)]).any(axis=0))
    often = {d: cars for d, cars in held.items() if len(cars) >= FEWEST_CARS and may[d]}
    groups = [group for group in companies(often, _rooms(often, frames)) if len(group) <= MOST_CODES]
    past = _cars_with(frames, frames.outcomes, frames.open_codes.filter(pl.col("background").is_not_null()))
    came = {d: set[str]().union(*(past.get(one, set()) for one in group)) for group in groups for d in group}
    return sorted(group for group in groups if back[group].sum() >= 1 and len(came[group[0]]) >= FEWEST_CARS)


def _cars_with(frames: DiagnosisFrames, *tables: pl.DataFrame) -> dict[int, set[str]]:
    """Return the cars on which each code was seen, by its column.

    A code that is looked past on one car, because the dealer or a declared modification says so, tells what sets it on
    another car of which nobody said so.
    """
    column = {code: d for d, code in enumerate(frames.codes["code"])}
    held: dict[int, set[str]] = {}
    for table in tables:
        seen = table.filter(pl.col("code").is_in(list(column)))
        for vehicle, code in seen.select("vehicle", "code").unique().iter_rows():
            held.setdefault(column[code], set()).add(vehicle)
    return held


def survivors(groups: list[list[int]], frames: DiagnosisFrames) -> list[int]:
    """Return, for each group, on how many cars one of its codes was back after a job or is looked past, of all makes.

    Args:
        groups: Columns of the codes of each.
        frames: The facts.
    """
    known = frames.outcomes.filter(pl.col("outcome") == "returned")
    back = _cars_with(frames, known, frames.open_codes.filter(pl.col("background").is_not_null()))
    return [len(set[str]().union(*(back.get(d, set()) for d in group))) for group in groups]


def _in_vain(visits: Visits) -> Bools:
    """Return (parts, codes): the part was worked on and the code came back, on ``FEWEST_CARS`` cars or more."""
    visit = np.repeat(np.arange(len(visits.jobs)), np.diff(visits.first))
    back = visits.lik_cleared < visits.lik_recurred
    cars: dict[tuple[int, int], set[int]] = {}
    for entry, attempt in zip(*np.nonzero(back), strict=True):
        v, d = int(visit[entry]), int(visits.code[entry])
        for part in np.flatnonzero(visits.fitted[v, attempt]).tolist():
            cars.setdefault((part, d), set()).add(int(visits.cars[v]))
    found = np.zeros((visits.fitted.shape[2], len(visits.module_of)), dtype=bool)
    for (part, d), several in cars.items():
        found[part, d] = len(several) >= FEWEST_CARS
    return found


def _rooms(codes: Iterable[int], frames: DiagnosisFrames) -> dict[int, set[str]]:
    """Return, for each of some codes that one make alone can have, the cars of that make."""
    makes = frames.codes["make"].to_list()
    cars: dict[str, set[str]] = {}
    for table in (frames.jobs, frames.stock):
        for vehicle, make in table.select("vehicle", pl.col("make").fill_null("")).unique().iter_rows():
            cars.setdefault(known_make(make), set()).add(vehicle)
    return {d: cars.get(known_make(makes[d]), set()) for d in codes if makes[d]}


def with_namesakes(groups: list[list[int]], visits: Visits, codes: pl.DataFrame) -> list[list[int]]:
    """Let a group lean on makers' codes of the same number at other makes, as far as such codes prove alike here.

    Equipment fitted later says the same at every make whose modules share their numbers, and at one make alone it may
    be on a single car.  Groups that then hold a code in common become one.

    Args:
        groups: The groups of ``standing_groups``.
        visits: The past visits.
        codes: module, short, make (blank or null for standard codes) and text of each code, in the columns' order.

    Returns:
        The groups, sorted, each of all makes together.
    """
    named: dict[tuple[str, str], list[int]] = {}
    texts = codes["text"].fill_null("").to_list()
    for d, (module, short, make) in enumerate(codes.select("module", "short", "make").iter_rows()):
        if make:
            named.setdefault((module, short), []).append(d)
    others = {d: [e for e in same if e != d] for same in named.values() for d in same}
    cleared, back = _ends(visits)
    tested, seldom = cleared + back >= TESTED, cleared <= SELDOM * (cleared + back)
    pairs = [(d, e) for group in groups for d in group for e in others.get(d, [])]
    alike = {}
    for same, (yes, no) in ((False, SAME_NUMBER), (True, SAME_TEXT)):
        known = [seldom[e] for d, e in pairs if tested[e] and _same_text(texts[d], texts[e]) == same]
        alike[same] = (yes + sum(known)) / (yes + no + len(known))
    graph = nx.Graph()
    for group in groups:
        nx.add_path(graph, group)
        graph.add_nodes_from(group)
    for d, e in pairs:
        differ = texts[d] and texts[e] and not _same_text(texts[d], texts[e])
        if seldom[e] and not differ and alike[_same_text(texts[d], texts[e])] > ALIKE:
            graph.add_edge(d, e)
    return sorted(sorted(group) for group in nx.connected_components(graph))


def supply_codes(codes: pl.DataFrame) -> Bools:
    """Return (codes,): the code tells that its module's supply is low, where several modules have such a code.

    Args:
        codes: module, text and component, a row a code.
    """
    told = pl.col("component").fill_null("").str.to_lowercase().is_in(SUPPLY) | pl.col("text").fill_null(
        ""
    ).str.to_lowercase().str.contains(LOW)
    found = codes.with_columns(supply=told)
    modules = found.filter(pl.col("supply"))["module"].n_unique()
    return np.asarray(found["supply"].to_numpy() & (modules >= SUPPLY_MODULES), dtype=bool)


def _same_text(one: str, other: str) -> bool:
    return bool(one) and one.casefold() == other.casefold()


def companies(held: Mapping[Code, set[Car]], rooms: Mapping[Code, set[Car]] | None = None) -> list[list[Code]]:
    """Return codes gathered by the company they keep, each group sorted; codes that keep none are alone.

    Args:
        held: The cars on which each code was seen.
        rooms: The cars on which a code can be at all; a code that is not named can be on every car.
    """
    codes, graph, rooms = sorted(held), nx.Graph(), rooms or {}
    graph.add_nodes_from(codes)
    for place, d in enumerate(codes):
        for other in codes[place + 1 :]:
            both = held[d] & held[other]
            if len(both) < FEWEST_CARS:
                continue
            either = held[d] | held[other]
            for room in (rooms[code] for code in (d, other) if code in rooms):
                either = either & room
            if len(both) >= COMPANY * len(either):
                graph.add_edge(d, other)
    return sorted(sorted(group) for group in nx.connected_components(graph))


def _ends(visits: Visits) -> tuple[Floats, Floats]:
    """Return (codes,): how often each code was seen to stay away after a job, and to come back, as far as known."""
    gone = (visits.known * (visits.lik_cleared > visits.lik_recurred)).sum(axis=1)
    again = (visits.known * (visits.lik_cleared < visits.lik_recurred)).sum(axis=1)
    codes = len(visits.module_of)
    counts = (np.bincount(visits.code, each, codes).astype(np.float64) for each in (gone, again))
    cleared, back = counts
    return cleared, back


def _ends_looked_past(frames: DiagnosisFrames) -> tuple[Floats, Floats]:
    """Return the same of codes that were looked past on the car, which no visit counts."""
    known = frames.outcomes.filter(pl.col("background").is_not_null()).join(
        frames.codes.select("code").with_row_index("at"), on="code"
    )
    gone, again = known.filter(pl.col("outcome").is_in(CLEARED)), known.filter(pl.col("outcome") == "returned")
    codes = frames.codes.height
    counts = (np.bincount(table["at"].to_numpy(), minlength=codes).astype(np.float64) for table in (gone, again))
    cleared, back = counts
    return cleared, back
