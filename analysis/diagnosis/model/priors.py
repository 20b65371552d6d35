"""What do the texts alone say about which part sets which code?

Before any repair is known, a code that names a part speaks for it; a network code
that points at the part's module speaks a little; any other code hardly at all.
Each belief is a chance and a strength: the number of past visits it is worth, so
that a few real repairs can overrule it.
"""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analysis.diagnosis.inputs.candidates import NO_PART, Candidate
from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.diagnosis.inputs.homes import homes_of
from analysis.diagnosis.inputs.make_kinship import Kinship, kindred_codes
from analysis.diagnosis.inputs.text_matching import Reader, Wording, alternatives, places_agree, speaks_of
from analysis.diagnosis.inputs.training_data import known_make
from analysis.diagnosis.model.noisy_or import Bools, Floats, Ints

NAMED, NAMED_VISITS = 0.80, 4.0
POINTED, POINTED_VISITS = 0.20, 2.0
TORN = 0.6
"""Where the export's wording names one part and the standard another, either is right so often."""
SAME_MODULE, SAME_MODULE_VISITS = 0.05, 1.0
OTHER, OTHER_VISITS = 0.02, 1.0
"""Most parts never set a code that names them not, and a few set it often: one visit's worth of doubt, not ten, lets
a single clear repair show which.  In drawn fleets the list then costs 1.10 instead of 1.16 of the knowing one."""
LENT_FROM = 0.5
"""A code without a text has that of its number at another make where the two share numbers at least so far."""
NAMES_ANOTHER, NAMES_ANOTHER_VISITS = 0.1, 4.0
"""A code of another module whose text names another part is set so much less often; and the visits that is worth.  Were
it as often as other codes, a part at fault would set one of the hundred codes that name others on nearly every car, and
would explain what a second fault sets.  Fitted on dealers drawn by a process of their own."""
UNTOLD, TOLD, UNTOLD_LOOKS = (SAME_MODULE, OTHER, OTHER * NAMES_ANOTHER), -1, 100.0
"""What is believed of a code that no words tie to a part: one of its own module, any other, and one that names another
part.  How often a fault sets such codes all parts together tell; the belief is worth so many looks at a code.  Fitted
on dealers drawn by a process of their own: 1,000 looks hide from a dealer of 60 cars what its jobs say."""
LEAK, LEAK_READS, LEAK_STRENGTHS = 0.01, 1000.0, (100.0, 200.0, 400.0)
"""Chance that a code has no known cause.  All codes together learn it from a belief worth 1,000 looks at a code; each
code shrinks towards them with 400."""
STANDING, STANDING_VISITS = 0.8, 3.0
"""Chance that a standing cause sets each code of its group, and the visits that is worth."""
PASSES_NOT, PASSES_VISITS = 0.10, 10.0
"""Chance that a passing cause is back after an erase, and the erases that is worth."""
PASSING, PASSING_NETWORK, PASSING_VISITS = 0.5, 0.15, 3.0
"""Chance that low voltage sets a module's own code of its supply, and that another module then misses one; the visits
that is worth."""
SUPPLY_PARTS = frozenset(map(frozenset, ({"battery"}, {"alternator"}, {"earth", "strap"})))
"""Where many modules say that their supply is low, these stand before what merely shares a code (common practice)."""
PAST, PAST_JOBS = 0.6, 6.0
"""Where codes are stored and none is active, the cause is gone with this chance; the erases of such cars that is
worth."""
RETURN_AFTER_ERASE, RETURN_VISITS, RETURN_STRENGTHS = 0.30, 20.0, (0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0)
HISTORY_LEAK = 5.0
"""A code that is stored but not active is so many times as likely to have no cause today."""
FAULT, FAULT_VISITS = 0.05, 12.0
NUMBERS, NUMBERS_VISITS = (0.10, 0.74, 0.13, 0.03), 20.0
"""How often a car that comes with codes has no, one, two or three faulty parts."""
BAD_NEW_PART, BAD_ALL, BAD_STRENGTHS = 0.06, 20.0, (2.5, 5.0, 10.0, 20.0, 40.0, 80.0, 160.0, 320.0)
"""Chance that a part at fault is not cured by a new one: bad, wrong, badly fitted, or something behind it.  All parts
together learn it from a belief worth 20 visits; each part shrinks towards them with as many visits as tell best how far
the parts differ."""


@dataclass(frozen=True, kw_only=True)
class Prior:
    """Beliefs before any visit: one row per candidate, one column per code.

    Attributes:
        link: Chance that the faulty part sets the code.
        visits: How many visits that chance is worth.
        named: The code's text names the part.
        pattern: Only the company the code keeps ties it to the part.
        alike: How many codes that one car can show the part is tied to by words of the same kind, this one among them.
        standing: (rows,) the row is no part but a candidate for a standing or a passing cause; these come last.
        passing: (rows,) an erase ends the cause.
        part: (rows,) number of the part, whichever place it is in.
        place: (rows,) number of its place among all places, -1 for none.
        elsewhere: The code's text names another place than the part's.
        network: (codes,) the code tells that another module is not heard, and so of no place.
        kin: (n, 3) column of a code, column of one that leans on what is learned of it, and how far (0 to 1).
        untold: (parts, codes) which of ``UNTOLD`` the chance is, ``TOLD`` where words or company tie part and code.
        strange: (codes,) the standard names a part for the code, and that is none of the candidates; empty: none is so.
        makes: (n, 4) column of a standard code that is split by make, numbers of two makes, and how far the first leans
            on what is learned at the second (0 to 1).
    """

    link: Floats
    visits: Floats
    named: Bools
    pattern: Bools
    alike: Floats
    standing: Bools
    passing: Bools
    part: Ints
    place: Ints
    elsewhere: Bools
    network: Bools
    kin: Floats
    untold: Ints
    makes: Floats = field(default_factory=lambda: np.zeros((0, 4)))
    strange: Bools = field(default_factory=lambda: np.zeros(0, dtype=bool))

    @cached_property
    def apart(self) -> Ints:
        """Return (s,): the columns of the codes that are split by make, ascending."""
        return np.unique(self.makes[:, 0]).astype(np.int64)

    def only(self, codes: Ints) -> "Prior":
        """Return the beliefs about some codes alone, all makes together."""
        columns = ("link", "visits", "named", "pattern", "alike", "elsewhere", "untold")
        taken = {name: getattr(self, name)[:, codes] for name in columns}
        strange = self.strange[codes] if len(self.strange) else self.strange
        return replace(
            self, **taken, network=self.network[codes], strange=strange, kin=np.zeros((0, 3)), makes=np.zeros((0, 4))
        )


def text_priors(candidates: list[Candidate], frames: DiagnosisFrames, families: pl.DataFrame, reader: Reader) -> Prior:
    """Turn the wording of codes and the families of codes into beliefs.

    Several codes of one module that name the same part (signal low, high, implausible) are one statement:
    they share the chance that the part sets at least one of them, those of other makes left out.

    Args:
        candidates: The parts; rows of the result.
        frames: The facts; their codes are the columns of the result, in order.
        families: One row per family with list columns codes and root text; may be empty.
        reader: Reads texts in the words of the trade.

    Returns:
        The beliefs.
    """
    kin, said = kindred_codes(frames, reader), _Said(candidates, reader)
    codes, lent = _with_lent_texts(frames.codes, kin)
    named, torn = _named(said, codes)
    homes = homes_of(candidates, frames, said.by_component)
    network = codes["network"].fill_null(False).to_numpy().astype(bool)
    modules = codes["module"].to_list()
    targets = codes["points_at"].to_list()
    link, visits = np.full(named.shape, OTHER), np.full(named.shape, OTHER_VISITS)
    untold = np.full(named.shape, UNTOLD.index(OTHER), dtype=np.int64)
    taken = named.any(axis=0) & ~network
    makers = np.array([known_make(make) for make in codes["make"].fill_null("")], dtype=np.str_)
    pattern = _pattern(named & ~network, codes["code"].to_list(), families)
    for i in range(len(candidates)):
        home = {modules[d] for d in np.flatnonzero(named[i] & ~network)} or homes[i]
        near = np.array([module in home for module in modules], dtype=bool)
        points = network & np.array([target in home for target in targets], dtype=bool)
        link[i, taken], visits[i, taken] = OTHER * NAMES_ANOTHER, NAMES_ANOTHER_VISITS
        link[i, near & ~network], visits[i, near & ~network] = SAME_MODULE, SAME_MODULE_VISITS
        untold[i, taken] = UNTOLD.index(OTHER * NAMES_ANOTHER)
        untold[i, near & ~network] = UNTOLD.index(SAME_MODULE)
        told = pattern[i] | points | (named[i] & network)
        link[i, told], visits[i, told] = POINTED, POINTED_VISITS
        untold[i, told | named[i]] = TOLD
        for module in home:
            own = named[i] & ~network & np.array([m == module for m in modules], dtype=bool)
            if own.any():
                beside = _on_one_car(own[None], makers)[0, own]
                link[i, own], visits[i, own] = 1 - (1 - NAMED) ** (1 / beside), NAMED_VISITS
        link[i, torn[i]] *= TORN
        link[i, named[i]] *= lent[named[i]]
    strong = named & ~network
    faint = ~strong & (link >= POINTED)
    counts = np.where(strong, _on_one_car(strong, makers), _on_one_car(faint, makers))
    return Prior(
        link=link, visits=visits, named=named, pattern=pattern & ~named, alike=np.maximum(counts, 1).astype(float),
        standing=np.zeros(len(candidates), dtype=bool), passing=np.zeros(len(candidates), dtype=bool),
        part=np.unique([part.part for part in candidates], return_inverse=True)[1].astype(np.int64),
        place=_place_numbers(candidates), elsewhere=_elsewhere(candidates, codes, reader), network=network,
        kin=np.array(kin, dtype=float).reshape(-1, 3), untold=untold, strange=_strange(codes, named, network),
    )  # fmt: skip


def _on_one_car(told: Bools, makers: NDArray[np.str_]) -> Floats:
    """Return (parts, codes): how many of the codes told of a part one car can show together with each code.

    Args:
        told: (parts, codes).
        makers: (codes,) the make that has the code to itself, blank for any.

    Returns:
        A make's own code is on its cars alone, so those of another make do not count; beside a code of any make the
        most that one make can have.
    """
    shared = told[:, makers == ""].sum(axis=1)
    own = {make: told[:, makers == make].sum(axis=1) for make in np.unique(makers[makers != ""])}
    most = np.max([np.zeros_like(shared), *own.values()], axis=0)
    counts = [shared + own.get(make, most) for make in makers]
    return np.array(counts, dtype=float).reshape(len(makers), len(told)).T


def _with_lent_texts(codes: pl.DataFrame, kin: list[Kinship]) -> tuple[pl.DataFrame, Floats]:
    """Return the codes, those without a text with their nearest namesake's, and how far each text can be trusted."""
    texts: list[str | None] = codes["text"].to_list()
    trust = np.ones(codes.height)
    lent: dict[int, tuple[float, str]] = {}
    for lender, column, share in kin:
        text = texts[lender]
        if not texts[column] and text and share >= LENT_FROM:
            lent[column] = max(lent.get(column, (0.0, "")), (share, text))
    for column, (share, text) in lent.items():
        texts[column], trust[column] = text, share
    return codes.with_columns(pl.Series("text", texts, dtype=pl.String)), trust


def _place_numbers(candidates: list[Candidate]) -> Ints:
    places = sorted({part.position for part in candidates} - {""})
    return np.array([places.index(part.position) if part.position else -1 for part in candidates], dtype=np.int64)


def _elsewhere(candidates: list[Candidate], codes: pl.DataFrame, reader: Reader) -> Bools:
    """Return (parts, codes): the text of the code names a place that the part is not in."""
    told = [reader.read(text).place for text in codes["text"].fill_null("")]
    own = [reader.read(part.position).place for part in candidates]
    differ = {(one, other): not places_agree(one, other) for one in set(own) for other in set(told)}
    return np.array([[differ[one, other] for other in told] for one in own], dtype=bool).reshape(len(own), len(told))


def with_standing(prior: Prior, groups: list[list[int]]) -> Prior:
    """Add a row for each group of codes that a standing cause may set.

    Args:
        prior: The beliefs about parts.
        groups: The codes of each, as columns.

    Returns:
        The beliefs with the groups behind the parts; a standing cause sets no code outside its group.
    """
    inside = np.zeros((len(groups), prior.link.shape[1]), dtype=bool)
    for row, group in zip(inside, groups, strict=True):
        row[group] = True
    return _with_causes(prior, np.where(inside, STANDING, 0.0), STANDING_VISITS, passing=False)


def with_supply_parts(prior: Prior, candidates: list[Candidate], supply: Bools) -> Prior:
    """Let the parts that every module's supply hangs on speak for the codes of low supply, whatever these name.

    Args:
        prior: The beliefs about parts alone.
        candidates: The parts.
        supply: (codes,) the code tells that its module's supply is low.
    """
    hangs = np.array([any(word.thing in SUPPLY_PARTS for word in part.wordings) for part in candidates], dtype=bool)
    told = hangs[:, None] & supply & (prior.link < PASSING)
    return replace(
        prior,
        link=np.where(told, PASSING, prior.link),
        visits=np.where(told, PASSING_VISITS, prior.visits),
        named=prior.named | told,
        alike=np.where(told, float(supply.sum()), prior.alike),
        untold=np.where(told, TOLD, prior.untold),
    )


def with_passing(prior: Prior, supply: Bools) -> Prior:
    """Add a row for low voltage, which an erase ends once the battery holds again.

    Args:
        prior: The beliefs about parts and standing causes.
        supply: (codes,) the code tells that its module's supply is low; a module that had none is not heard by others.

    Returns:
        The beliefs with the row behind the others.
    """
    link = np.where(supply, PASSING, np.where(prior.network, PASSING_NETWORK, 0.0))
    return _with_causes(prior, link[None], PASSING_VISITS, passing=True)


def _with_causes(prior: Prior, link: Floats, visits: float, *, passing: bool) -> Prior:
    none, causes = np.zeros(link.shape, dtype=bool), np.ones(len(link), dtype=bool)
    told = {
        "link": link,
        "visits": np.full(link.shape, visits),
        "named": none,
        "pattern": none,
        "alike": np.ones(link.shape),
        "elsewhere": none,
        "untold": np.full(link.shape, TOLD),
    }
    rows = {name: np.vstack([getattr(prior, name), row]) for name, row in told.items()}
    behind = np.arange(len(link), dtype=np.int64)
    return Prior(
        **rows,
        standing=np.append(prior.standing, causes),
        passing=np.append(prior.passing, causes & passing),
        part=np.append(prior.part, behind + prior.part.max(initial=-1) + 1),
        place=np.append(prior.place, 0 * behind - 1),
        network=prior.network,
        kin=prior.kin,
        makes=prior.makes,
        strange=prior.strange,
    )


class _Said:
    """Which parts do texts name?"""

    def __init__(self, candidates: list[Candidate], reader: Reader):
        self.reader = reader
        self.parts = len(candidates)
        self.places: dict[tuple[Wording, ...], list[tuple[int, frozenset[str]]]] = {}
        for i, part in enumerate(candidates):
            self.places.setdefault(part.wordings, []).append((i, reader.read(part.position).place))
        self.known: dict[tuple[str, str], tuple[list[int], list[int]]] = {}
        self.parts_of = list(self.places.items())
        self.holding: dict[str, set[int]] = {}
        for number, (wordings, _) in enumerate(self.parts_of):
            for word in {word for wording in wordings for word in wording.thing}:
                self.holding.setdefault(word, set()).add(number)

    def by_either(self, text: str, component: str) -> tuple[list[int], list[int]]:
        """Return the parts that an export's wording names, and those that the standard's word for the component does.

        Where the wording names a place, the component's parts have to be there.
        """
        if (text, component) not in self.known:
            said = self.reader.read(text)
            place = said.place | self.reader.read(component).place
            self.known[text, component] = self._best([said]), self._best(self._ways(component, place))
        return self.known[text, component]

    def by_component(self, component: str) -> list[int]:
        """Return the parts that a component of the standard codes names, in whichever place."""
        return self._best(self._ways(component, frozenset()))

    def _ways(self, component: str, place: frozenset[str]) -> list[Wording]:
        ways = (self.reader.read(way) for way in alternatives(component) if way not in NO_PART)
        return [replace(way, place=place) for way in ways]

    def _sharing(self, said: Wording) -> set[int]:
        """Return the places in ``parts_of`` that share a word with a text: no other can be named by it."""
        return set().union(*(self.holding.get(word, set()) for word in said.thing))

    def _best(self, spoken: list[Wording]) -> list[int]:
        """A text that holds a part's name means it, and of several the longest; else it names what holds it."""
        held: dict[int, frozenset[str]] = {}
        holding: dict[int, frozenset[str]] = {}
        shared = [(said, *self.parts_of[number]) for said in spoken for number in self._sharing(said)]
        for said, wordings, places in shared:
            for word in wordings:
                if not speaks_of(word, said):
                    continue
                found = held if word.thing <= said.thing else holding
                for i, place in places:
                    if places_agree(word.place | place, said.place):
                        found[i] = max(found.get(i, frozenset()), word.thing, key=lambda hit: (len(hit), sorted(hit)))
        # "brake pressure sensor" is meant where both it and "pressure sensor" would fit.
        return [i for i in sorted(held) if not any(held[i] < other for other in held.values())] or sorted(holding)


def _named(said: _Said, codes: pl.DataFrame) -> tuple[Bools, Bools]:
    """Return (parts, codes): a text names the part; and its wording and the standard name different parts."""
    named = np.zeros((said.parts, codes.height), dtype=bool)
    torn = np.zeros_like(named)
    for d, row in enumerate(codes.select("text", "component").iter_rows()):
        by_text, by_component = said.by_either(row[0] or "", row[1] or "")
        differ = bool(by_text and by_component) and not set(by_text) & set(by_component)
        chosen = by_text + by_component if differ else by_text or by_component
        named[chosen, d] = True
        torn[chosen, d] = differ
    return named, torn


def _strange(codes: pl.DataFrame, named: Bools, network: Bools) -> Bools:
    """Return (codes,): the standard names a part for the code that no candidate is; one of the network has none."""
    told = [any(way not in NO_PART for way in alternatives(component or "")) for component in codes["component"]]
    return np.array(told, dtype=bool) & ~named.any(axis=0) & ~network


def _pattern(named: Bools, codes: list[str], families: pl.DataFrame) -> Bools:
    """A part named by the root of a family (or by any code where no root stands out) may explain the rest."""
    tied = np.zeros_like(named)
    column = {code: d for d, code in enumerate(codes)}
    for members, root in families.select("codes", "root").iter_rows():
        inside = [column[code] for code in members if code in column]
        heads = [column[root]] if root in column else inside
        speaks = np.asarray(named[:, heads].any(axis=1))
        tied[:, inside] |= speaks[:, None]
    return tied & ~named
