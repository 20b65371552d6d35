"""Which codes could be looked past, with what speaks for it: a question to the dealer, and what was agreed to already.

A *standing* cause (equipment, a coding, a quirk of the line) outlives every erase and every repair; a *passing* one
(low voltage, a pulled plug) is ended by an erase alone.  Neither wants a part.  What is found is proposed, never done:
until the dealer agrees it is weighed against the parts like any other cause.

Nothing is proposed that a part cleared on another car, unless that part was tried on this one; and nothing of brakes,
steering, restraints or high voltage, whose warnings have to be gone whatever sets them.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import compress

import numpy as np
import polars as pl

from analysis.diagnosis.engine import DiagnosisModel
from analysis.diagnosis.inputs.standing_groups import SELDOM, companies
from analysis.diagnosis.inputs.training_data import known_make
from analysis.texts import standing_text as say

FEWEST_CARS, FEWEST_ENDS = 2, 4
"""A group is asked about where so many cars of a make show it, and the outcome of so many jobs is known."""
OWN_ENDS = 2
"""A car that is the only one of its make to show it: so many jobs on it, and the codes back after each."""
PASSES, PASSING_CARS = 0.9, 3
"""An erase alone ends codes that stayed away after such a share of them or more, on so many cars."""
CLEARED = 0.5
"""A part cleared a code elsewhere where the jobs with it make up so much of a job."""
MOST_TRIED = 4

STANDING = {
    **dict.fromkeys(("vehicle", "make", "codes"), pl.String),
    "cars": pl.Int64,
    "erases_survived": pl.Int64,
    **dict.fromkeys(("kind", "state", "reason"), pl.String),
}
_ORDER = {"proposed": 0, "accepted": 1, "declared": 2}


@dataclass(frozen=True, kw_only=True)
class _Past:
    """What became of codes: per car and job its outcomes, and what was worked on.

    Attributes:
        make: The make of each car, as it was last spelled; empty text where it is not known.
        shown: The codes of each car, past or open, that count.
        ends: For each code the jobs before which it was there and whose outcome is known: car, job, it was back.
        parts: What each job worked on.
        cleared_by: For each code the parts that cleared it on some car.
        grave: The codes that nobody is asked to look past.
    """

    make: Mapping[str, str]
    shown: Mapping[str, frozenset[str]]
    ends: Mapping[str, list[tuple[str, int, bool]]]
    parts: Mapping[int, list[str]]
    cleared_by: Mapping[str, frozenset[str]]
    grave: frozenset[str]

    @cached_property
    def back_on(self) -> Mapping[tuple[str, str], list[int]]:
        """Return the jobs after which a code was back on a car, by both."""
        found: dict[tuple[str, str], list[int]] = defaultdict(list)
        for code, ends in self.ends.items():
            for car, job, back in ends:
                if back:
                    found[code, car].append(job)
        return found

    @cached_property
    def showing(self) -> Mapping[str, set[str]]:
        """Return the cars that show each code."""
        found: dict[str, set[str]] = defaultdict(set)
        for car, codes in self.shown.items():
            for code in codes:
                found[code].add(car)
        return found


def standing_causes(
    model: DiagnosisModel, looked_past: pl.DataFrame, refused: pl.DataFrame | None = None
) -> pl.DataFrame:
    """Return what is proposed to look past, and what is looked past already.

    Args:
        model: Fitted to the past jobs.
        looked_past: vehicle, make_key (empty text: all), code, reason and cars of the background rows in force.
        refused: vehicle, make and codes (``;``-separated) of proposals that the dealer refused; None for none.

    Returns:
        The columns of ``standing.csv``: proposals first, those on most cars first.
    """
    past = _past(model)
    no = [] if refused is None else list(refused.select("vehicle", "make", "codes").fill_null("").iter_rows())
    rows = [*_proposals(model, past, no), *_in_force(model, past, looked_past)]
    rows.sort(key=lambda row: (_ORDER[str(row["state"])], -int(str(row["cars"])), str(row["codes"]), str(row["make"])))
    return pl.DataFrame(rows, schema=STANDING)


def _past(model: DiagnosisModel) -> _Past:
    frames = model.frames
    counted = frames.outcomes.filter(pl.col("background").is_null())
    parts: dict[int, list[str]] = defaultdict(list)
    for job, part, position in frames.job_parts.select("job_id", "part", "position").fill_null("").iter_rows():
        parts[job].append(f"{part} {position}".strip())
    ends: dict[str, list[tuple[str, int, bool]]] = defaultdict(list)
    known = counted.filter(pl.col("outcome").is_in(["returned", "cleared", "recurred"]))
    for code, vehicle, job, outcome in known.select("code", "vehicle", "job_id", "outcome").sort("job_id").iter_rows():
        ends[code].append((vehicle, job, outcome == "returned"))
    open_now = frames.open_codes.filter(pl.col("background").is_null())
    shown: dict[str, set[str]] = defaultdict(set)
    for vehicle, code in pl.concat([table.select("vehicle", "code") for table in (counted, open_now)]).iter_rows():
        shown[vehicle].add(code)
    jobs = frames.jobs.sort("done_at").select("vehicle", "make")
    make = {car: name or "" for car, name in pl.concat([jobs, frames.stock.select("vehicle", "make")]).iter_rows()}
    return _Past(
        make=make, shown={car: frozenset(codes) for car, codes in shown.items()}, ends=ends, parts=parts,
        cleared_by=_cleared_by(model), grave=frozenset(compress(model.codes, model.grave)),
    )  # fmt: skip


def _cleared_by(model: DiagnosisModel) -> dict[str, frozenset[str]]:
    """Return the parts that past jobs teach to have cleared each code."""
    learned = model.parameters.learned[: len(model.candidates)] >= CLEARED
    return {
        code: frozenset(model.candidates[i].label for i in np.flatnonzero(learned[:, d]))
        for d, code in enumerate(model.codes)
    }


def _proposals(model: DiagnosisModel, past: _Past, refused: list[tuple[str, str, str]]) -> Iterator[dict[str, object]]:
    link = model.parameters.link[model.parameters.standing & ~model.parameters.passing]
    own = {code: known_make(make or "") for code, make in model.frames.codes.select("code", "make").iter_rows()}
    for group in ([model.codes[d] for d in np.flatnonzero(row > 0)] for row in link):
        for make in sorted(set(past.make.values()) - {""}):
            here = [code for code in group if own[code] in ("", known_make(make))]
            yield from _standing(past, make, _cars_of(past, make, here), here, refused)
    taken = {model.codes[d] for d in np.flatnonzero((link > 0).any(axis=0))}
    for group in _passing_groups(past, taken):
        for make in sorted(set(past.make.values()) - {""}):
            here = [code for code in group if own[code] in ("", known_make(make))]
            yield from _passing(past, make, _cars_of(past, make, here), here, refused)


def _cars_of(past: _Past, make: str, group: list[str]) -> list[str]:
    """Return the cars of a make that show at least half of a group."""
    many = Counter(car for code in group for car in past.showing.get(code, ()) if past.make.get(car) == make)
    return sorted(car for car, codes in many.items() if len(group) <= 2 * codes)


def _standing(
    past: _Past, make: str, cars: list[str], group: list[str], refused: list[tuple[str, str, str]]
) -> Iterator[dict[str, object]]:
    allowed = [car for car in cars if not _untried(past, car, group)]
    whole = len(allowed) == len(cars) >= FEWEST_CARS
    asked: list[tuple[str, list[str], int]] = [("", cars, FEWEST_ENDS)] if whole else []
    if not whole:
        asked = [(car, [car], OWN_ENDS) for car in allowed]
    for vehicle, of, fewest in asked:
        codes = _asked_codes(past, group, (vehicle, make), refused)
        back, gone, tried = _ended(past, of, codes)
        if codes and len(back) >= fewest and len(gone) <= SELDOM * (len(back) + len(gone)):
            erases = sum(not past.parts.get(job) for job in back)
            told = say.evidence(erases, len(back) - erases, len(gone), len(back | gone), tried)
            yield _row(
                (vehicle, make), codes,
                cars=len(of), survived=len(back), kind="standing", state="proposed", reason=told,
            )  # fmt: skip


def _passing(
    past: _Past, make: str, cars: list[str], group: list[str], refused: list[tuple[str, str, str]]
) -> Iterator[dict[str, object]]:
    codes = _asked_codes(past, group, ("", make), refused)
    if codes and len(cars) >= FEWEST_CARS and not any(_untried(past, car, codes) for car in cars):
        everywhere = sorted(set().union(*(past.showing.get(code, set()) for code in codes)))
        back, gone, _ = _ended(past, everywhere, codes, alone=True)
        told = say.ended(len(gone), len(back | gone))
        yield _row(("", make), codes, cars=len(cars), survived=0, kind="passing", state="proposed", reason=told)


def _passing_groups(past: _Past, taken: set[str]) -> list[list[str]]:
    """Return groups of codes that erases alone end, none of those taken."""
    often: dict[str, set[str]] = {}
    for code, ends in past.ends.items():
        alone = [(car, back) for car, job, back in ends if not past.parts.get(job)]
        gone = sum(not back for _, back in alone)
        cars = {car for car, _ in alone}
        if (
            code not in taken
            and len(alone) >= FEWEST_ENDS
            and len(cars) >= PASSING_CARS
            and gone >= PASSES * len(alone)
        ):
            often[code] = past.showing.get(code, set())
    return companies(often)


def _asked_codes(past: _Past, group: list[str], of: tuple[str, str], refused: list[tuple[str, str, str]]) -> list[str]:
    """Return the codes of a group that the dealer can be asked about, of one car or, if blank, all, and a make."""
    vehicle, make = of
    no = {
        code
        for car, of_make, codes in refused
        if car in ("", vehicle) and known_make(of_make) in ("", known_make(make))
        for code in codes.split(";")
    }
    return [code for code in group if code not in no and code not in past.grave]


def _untried(past: _Past, vehicle: str, group: Iterable[str]) -> bool:
    """Tell whether a part that cleared one of the codes elsewhere was not tried in vain on this car."""
    for code in group:
        if code not in past.shown[vehicle]:
            continue
        mine = past.back_on.get((code, vehicle), [])
        in_vain = {part for job in mine for part in past.parts.get(job, [])}
        if past.cleared_by.get(code, frozenset()) - in_vain:
            return True
    return False


def _ended(
    past: _Past, cars: list[str], codes: list[str], alone: bool = False
) -> tuple[set[int], set[int], list[tuple[str, int]]]:
    """Return the jobs after which some of the codes was back, those after which all stayed away, and what was tried.

    Args:
        past: What became of codes.
        cars: The cars that count.
        codes: The group.
        alone: Count erases alone.
    """
    of, back, seen = set(cars), set[int](), set[int]()
    for code in codes:
        for car, job, again in past.ends.get(code, []):
            if car in of and not (alone and past.parts.get(job)):
                seen.add(job)
                if again:
                    back.add(job)
    tried = Counter(part for job in back for part in set(past.parts.get(job, [])))
    most = sorted(tried.items(), key=lambda one: (-one[1], one[0]))[:MOST_TRIED]
    return back, seen - back, most


def _in_force(model: DiagnosisModel, past: _Past, looked_past: pl.DataFrame) -> Iterator[dict[str, object]]:
    """Return what background rows and declared modifications look past, a row a reason."""
    spelled = {known_make(make): make for make in past.make.values()}
    grouped = looked_past.sort("code").group_by("vehicle", "make_key", "reason", maintain_order=True)
    found = grouped.agg("code", pl.col("cars").max())
    masked = model.frames.outcomes.filter(pl.col("background").is_not_null())
    back = masked.filter(pl.col("outcome") == "returned").select("background", "vehicle", "job_id").unique()
    again: dict[str, list[str]] = defaultdict(list)
    for why, car, _ in back.iter_rows():
        again[why].append(car)
    for vehicle, key, reason, codes, cars in found.iter_rows():
        agreed = reason.startswith(say.AGREED)
        mine = [
            car for car in again[reason]
            if vehicle in ("", car) and key in ("", known_make(past.make.get(car, "")))
        ]  # fmt: skip
        make = past.make.get(vehicle, "") if vehicle else spelled.get(key, key)
        kind, state = (say.agreed_kind(reason), "accepted") if agreed else ("standing", "declared")
        yield _row((vehicle, make), codes, cars=cars, survived=len(mine), kind=kind, state=state, reason=reason)
    yield from _modified(past, masked, back, model.frames.open_codes)


def _modified(
    past: _Past, masked: pl.DataFrame, back: pl.DataFrame, open_codes: pl.DataFrame
) -> Iterator[dict[str, object]]:
    columns = ("vehicle", "code", "background")
    both = pl.concat([table.select(columns) for table in (masked, open_codes)]).unique()
    declared = both.filter(pl.col("background").str.starts_with(MODIFICATION)).sort("code", "vehicle")
    makes: dict[tuple[str, str], list[tuple[str, str]]] = defaultdict(list)
    for vehicle, code, why in declared.iter_rows():
        makes[why, past.make.get(vehicle, "")].append((vehicle, code))
    for (why, make), pairs in makes.items():
        cars, codes = {vehicle for vehicle, _ in pairs}, list(dict.fromkeys(code for _, code in pairs))
        again = back.filter((pl.col("background") == why) & pl.col("vehicle").is_in(list(cars)))
        told = say.modified(why.removeprefix(MODIFICATION))
        survived = again["job_id"].n_unique()
        yield _row(("", make), codes, cars=len(cars), survived=survived, kind="standing", state="declared", reason=told)


MODIFICATION = "modification: "
"""With this the reason of a code begins that a declared modification explains, as ``core.masked_codes`` has it."""


def _row(
    where: tuple[str, str], codes: list[str], *, cars: int, survived: int, kind: str, state: str, reason: str
) -> dict[str, object]:
    vehicle, make = where
    return {
        "vehicle": vehicle, "make": make, "codes": ";".join(sorted(codes)), "cars": cars, "erases_survived": survived,
        "kind": kind, "state": state, "reason": reason,
    }  # fmt: skip
