"""Past jobs as numbers: what was there, what was read, what was fitted, what came back.

A car whose codes came back and that was worked on again is still the one car with its
one fault: all those jobs are one visit with several attempts here, and teach once what sets which code.

A code whose module was not read says nothing, neither present nor absent.  A code
that stayed away counts for as much as the car was driven; one that was not looked
for again counts for nothing.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analysis.diagnosis.inputs.candidates import Candidate
from analysis.diagnosis.inputs.episodes import MOST_ATTEMPTS, UNSEEN, End, Fault, gather_faults
from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.diagnosis.inputs.looks import Looks, looks_of
from analysis.evidence.clusters import CLEARED, single_part_jobs
from analysis.vocabulary.makes import make_key

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Supplied:
    """One entry per visit and part that was worked on alone in one of its jobs, with a known end, in the order of time.

    Attributes:
        visit: (entries,) number of the visit.
        row: (entries,) column of the part.
        supplier: (entries,) number of who supplied it, -1 where nobody wrote it down.
        failed: (entries,) 1 where a code that the part has ever cleared came back after the job, else 0.
        buys: (parts,) number of who supplies it today, by the price book, else most often; -1 where that is not known.
        names: The suppliers, sorted.
    """

    visit: Ints
    row: Ints
    supplier: Ints
    failed: Floats
    buys: Ints
    names: list[str]

    def entries(self, visit: Ints, row: Ints) -> Ints:
        """Return the entries of visits and columns of one shape, -1 where there is none."""
        if not len(self.row):
            return np.full(row.shape, -1, dtype=np.int64)
        key = visit * self._wide + row
        at = np.minimum(np.searchsorted(self._keys, key, sorter=self._order), len(self.row) - 1)
        found = self._order[at]
        return np.where((self._keys[found] == key) & (row >= 0), found, -1)

    @cached_property
    def _wide(self) -> int:
        return int(self.row.max()) + len(self.buys) + 1

    @cached_property
    def _keys(self) -> Ints:
        return np.asarray(self.visit * self._wide + self.row)

    @cached_property
    def _order(self) -> Ints:
        return np.argsort(self._keys, kind="stable")


@dataclass(frozen=True, kw_only=True)
class Visits:
    """One row per fault that cars came with, sorted by its first job; up to ``MOST_ATTEMPTS`` attempts were made at it.

    Most visits show a few codes out of thousands, so what became of a code is kept for those that were there only:
    the entries of visit v stand from ``first[v]`` up to ``first[v + 1]``, by code.

    Attributes:
        jobs: Ids of the jobs of each attempt of each visit, in time order.
        cars: (n,) number of the car: one car can come with several faults.
        makes: (n,) index into ``make_names``.
        make_names: Makes, sorted; blank for unknown.
        asked: (n, modules) the module was read before the first attempt.
        module_of: (codes,) place of the code's module among the columns of ``asked``.
        possible: (makes, codes) the code can be there on that make, other than as background.
        fitted: (n, MOST_ATTEMPTS, parts) the part was worked on in that attempt.
        first: (n + 1,) where the entries of each visit begin.
        code: (entries,) a code that was there before the first attempt, or later in a module first read then;
            background left out, and so are codes that were stored only while others were awake.
        untold: Visits and codes of what was left out: neither present nor absent.
        stale: (n,) before the first attempt all of its codes were stored and none was active.
        lik_cleared: (entries, MOST_ATTEMPTS) likelihood of what was seen after the attempt if the code would stay
            away; 1 where nobody looked.
        lik_recurred: (entries, MOST_ATTEMPTS) the same if the code would come back.
        known: (entries, MOST_ATTEMPTS) how well the outcome is known, 0 to 1.
        supplied: Who supplied the parts that were worked on alone.
    """

    jobs: list[list[list[int]]]
    cars: Ints
    makes: Ints
    make_names: list[str]
    asked: Bools
    module_of: Ints
    possible: Bools
    fitted: Bools
    first: Ints
    code: Ints
    untold: tuple[Ints, Ints]
    stale: Bools
    lik_cleared: Floats
    lik_recurred: Floats
    known: Floats
    supplied: Supplied

    @property
    def many_jobs(self) -> int:
        """How many jobs the visits hold."""
        return sum(len(attempt) for attempts in self.jobs for attempt in attempts)

    def with_causes(self, causes: int) -> "Visits":
        """Return the visits with columns for so many causes behind the parts, which no work removes."""
        shape = (*self.fitted.shape[:2], causes)
        return replace(self, fitted=np.concatenate([self.fitted, np.zeros(shape, dtype=bool)], axis=2))

    def with_erased(self, codes: list[int], erased: set[int]) -> "Visits":
        """Return the visits with a column for a cause that an erase ends: erasing counts as working on it.

        Args:
            codes: Columns of the codes that tell of it; visits that show none of them are left as they are.
            erased: Ids of the jobs that erased the codes.
        """
        shown = np.zeros(len(self.jobs), dtype=bool)
        visit = np.repeat(np.arange(len(self.jobs)), np.diff(self.first))
        shown[visit[np.isin(self.code, codes)]] = True
        ended = np.zeros((*self.fitted.shape[:2], 1), dtype=bool)
        for v in np.flatnonzero(shown):
            for number, jobs in enumerate(self.jobs[v]):
                ended[v, number] = not erased.isdisjoint(jobs)
        return replace(self, fitted=np.concatenate([self.fitted, ended], axis=2))

    @property
    def ends(self) -> tuple[Floats, Floats, Floats]:
        """Return lik_cleared, lik_recurred and known."""
        return self.lik_cleared, self.lik_recurred, self.known

    @cached_property
    def worked_on(self) -> Bools:
        """Return (n, parts): the part was worked on in some attempt."""
        return np.asarray(self.fitted.any(axis=1))

    @cached_property
    def trials(self) -> Floats:
        """Return (parts,): the visits in which the part was worked on and somebody looked what became of a code."""
        visit = np.repeat(np.arange(len(self.jobs)), np.diff(self.first))
        best = np.zeros((len(self.jobs), MOST_ATTEMPTS))
        np.maximum.at(best, visit, self.known)
        return np.asarray((self.fitted * best[:, :, None]).max(axis=1, initial=0.0).sum(axis=0))

    @cached_property
    def many(self) -> Ints:
        """Return (n,): the number of attempts."""
        return np.array([len(attempts) for attempts in self.jobs], dtype=np.int64)

    @cached_property
    def reads(self) -> Floats:
        """Return (codes,): the visits in which the code's module was read."""
        told = [look.read(np.ones((len(look.visits), 1)))[0] for look in self.looks]
        return np.asarray(np.sum([np.zeros(len(self.module_of)), *told], axis=0))

    @cached_property
    def looks(self) -> list[Looks]:
        """Return what was read, a run of visits of one make at a time."""
        told = looks_of(
            self.makes,
            asked=self.asked,
            module_of=self.module_of,
            possible=self.possible,
            entries=(self.first, self.code),
            untold=self.untold,
        )
        return list(told)


def gather_visits(frames: DiagnosisFrames, candidates: list[Candidate], makes_elsewhere: Iterable[str] = ()) -> Visits:
    """Turn the frames of past jobs into arrays over candidates and codes.

    Args:
        frames: The facts; codes are numbered in the order of ``frames.codes``.
        candidates: The parts, columns of ``fitted``.
        makes_elsewhere: Further makes, of which there may be no visit.

    Returns:
        The visits; jobs without an unmasked code before them are left out.
    """
    column = {code: d for d, code in enumerate(frames.codes["code"])}
    slot = {module: m for m, module in enumerate(frames.codes["module"].unique().sort())}
    module_of = np.array([slot[module] for module in frames.codes["module"]], dtype=np.int64)
    known = frames.outcomes.filter(pl.col("code").is_in(list(column)))
    counted = pl.col("background").is_null() & (pl.col("awake") | ~others_awake())
    before, left_out = known.filter(counted), known.filter(~counted)
    ends: dict[int, dict[int, End]] = {}
    for job, code, gone, still in before.select("job_id", "code", "lik_gone", "lik_still").iter_rows():
        ends.setdefault(job, {})[column[code]] = End(gone, still, abs(gone - still))
    faults = gather_faults(frames.jobs, ends, _asked(frames.job_modules, slot), module_of)
    makes = [known_make(fault.make) for fault in faults]
    names = sorted({*makes, *map(known_make, makes_elsewhere)})
    index = {name: m for m, name in enumerate(names)}
    asked = np.zeros((len(faults), len(slot)), dtype=bool)
    for v, fault in enumerate(faults):
        asked[v, list(fault.asked)] = True
    first, code, (lik_cleared, lik_recurred, known) = _afterwards(faults)
    return Visits(
        jobs=[fault.attempts for fault in faults],
        cars=np.unique([fault.vehicle for fault in faults], return_inverse=True)[1].astype(np.int64),
        makes=np.array([index[make] for make in makes], dtype=np.int64),
        make_names=names,
        asked=asked,
        module_of=module_of,
        possible=can_occur(names, frames.codes) & _ever_real(frames),
        fitted=_fitted(frames.job_parts, faults, candidates),
        first=first,
        code=code,
        untold=_untold(faults, left_out, column),
        stale=_stale(faults, before),
        lik_cleared=lik_cleared,
        lik_recurred=lik_recurred,
        known=known,
        supplied=_supplied(frames, faults, candidates),
    )


def stored_and_erased(frames: DiagnosisFrames) -> Ints:
    """Return of how many jobs that only erased codes, none of them active, they stayed away, and how many are known.

    Returns:
        (2, 2) both numbers, first of cars that nobody had worked on before: after a repair without an erase its codes
        are stored until somebody erases them, which says nothing of a car that has just come in.
    """
    worked = frames.job_parts.select("job_id").unique()
    began = frames.jobs.join(worked, on="job_id", how="semi").group_by("vehicle").agg(first=pl.col("done_at").min())
    jobs = frames.jobs.filter(pl.col("erased")).join(worked, on="job_id", how="anti")
    mended = (pl.col("first") < pl.col("done_at")).fill_null(False)
    alone = jobs.join(began, on="vehicle", how="left").select("job_id", mended=mended)
    counted = frames.outcomes.filter(pl.col("background").is_null()).join(alone, on="job_id")
    told = counted.group_by("job_id", "mended").agg(
        pl.col("awake").any(),
        back=(pl.col("outcome") == "returned").any(),
        gone=pl.col("outcome").is_in(["cleared", "recurred"]).any(),
    )
    told = told.filter(~pl.col("awake") & (pl.col("back") | pl.col("gone")))
    kinds = [told.filter(pl.col("mended") == kind) for kind in (False, True)]
    return np.array([[kind.height - int(kind["back"].sum()), kind.height] for kind in kinds])


def stored_beside(frames: DiagnosisFrames) -> tuple[int, int]:
    """Return of how many jobs that cleared all active codes one stored beside them was back, and how many are known."""
    jobs = frames.outcomes.filter(pl.col("background").is_null() & others_awake()).group_by("job_id")
    told = jobs.agg(
        cleared=(pl.col("outcome") == "cleared").filter(pl.col("awake")).all(),
        back=(pl.col("outcome") == "returned").filter(~pl.col("awake")).any(),
        gone=pl.col("outcome").is_in(["cleared", "recurred"]).filter(~pl.col("awake")).any(),
    ).filter(pl.col("cleared") & (pl.col("back") | pl.col("gone")))
    return int(told["back"].sum()), told.height


def others_awake() -> pl.Expr:
    """Whether a code that is reckoned with was awake before the job: one stored only beside it tells of the past."""
    return (pl.col("awake") & pl.col("background").is_null()).any().over("job_id")


def _stale(faults: list[Fault], before: pl.DataFrame) -> Bools:
    awake = set(before.filter(pl.col("awake"))["job_id"])
    return np.array([not awake & set(fault.attempts[0]) for fault in faults], dtype=bool)


def _untold(faults: list[Fault], left_out: pl.DataFrame, column: dict[str, int]) -> tuple[Ints, Ints]:
    """Return the visits and codes of outcomes that were left out."""
    place = {job: v for v, fault in enumerate(faults) for attempt in fault.attempts for job in attempt}
    told = {(place[job], column[code]) for job, code in left_out.select("job_id", "code").iter_rows() if job in place}
    pairs = np.array(sorted(told), dtype=np.int64).reshape(-1, 2)
    return pairs[:, 0], pairs[:, 1]


def _ever_real(frames: DiagnosisFrames) -> Bools:
    """Return (codes,): False where a code was seen as background only; that it is absent says nothing of faults."""
    seen = pl.concat([table.select("code", "background") for table in (frames.outcomes, frames.open_codes)])
    real = seen.group_by("code").agg(pl.col("background").is_null().any().alias("real"))
    found = frames.codes.select("code").join(real, on="code", how="left", maintain_order="left")
    return found["real"].fill_null(True).to_numpy().astype(bool)


def _afterwards(faults: list[Fault]) -> tuple[Ints, Ints, Floats]:
    """Return where the entries of each fault begin, their codes, and (3, entries, attempts) what was seen of them."""
    entries = [(code, fault.ends[code]) for fault in faults for code in sorted(fault.ends)]
    table = np.tile(np.array(UNSEEN), (len(entries), MOST_ATTEMPTS, 1))
    for row, (_, ends) in enumerate(entries):
        table[row, : len(ends)] = ends
    first = np.concatenate(([0], np.cumsum([len(fault.ends) for fault in faults]))).astype(np.int64)
    return first, np.array([code for code, _ in entries], dtype=np.int64), np.moveaxis(table, 2, 0)


def _asked(job_modules: pl.DataFrame, slot: dict[str, int]) -> dict[int, set[int]]:
    asked: dict[int, set[int]] = {}
    for job, module in job_modules.select("job_id", "module").iter_rows():
        if module in slot:
            asked.setdefault(job, set()).add(slot[module])
    return asked


def known_make(make: str) -> str:
    """Return the one spelling of a make, blank where it is not known."""
    return make_key(make) if make.strip() else ""


def can_occur(makes: list[str], codes: pl.DataFrame) -> Bools:
    """Return (makes, codes): a maker's own code can only be there, or be absent, on that make."""
    own = [known_make(make) for make in codes["make"].fill_null("")]
    table = {make: np.array([not maker or maker == make for maker in own], dtype=bool) for make in set(makes)}
    return np.array([table[make] for make in makes], dtype=bool).reshape(len(makes), len(own))


def _supplied(frames: DiagnosisFrames, faults: list[Fault], candidates: list[Candidate]) -> Supplied:
    """Of several jobs of one visit with the same part the last tells."""
    place = {candidate.key: i for i, candidate in enumerate(candidates)}
    names = sorted({*frames.job_parts["supplier"].drop_nulls(), *frames.part_suppliers["supplier"].drop_nulls()})
    number = {name: i for i, name in enumerate(names)}
    where = {job: v for v, fault in enumerate(faults) for attempt in fault.attempts for job in attempt}
    alone = single_part_jobs(frames.job_parts).with_columns(pl.col("position").fill_null(""))
    known = frames.outcomes.filter(pl.col("background").is_null() & pl.col("outcome").is_in([*CLEARED, "returned"]))
    ends = alone.join(known.select("job_id", "code", "outcome"), on="job_id")
    own = ends.filter(pl.col("outcome") != "returned").select("part", "code").unique()
    ends = ends.join(own, on=["part", "code"], how="semi")
    jobs = ends.group_by("job_id", "part", "position", "supplier").agg((pl.col("outcome") == "returned").any())
    told: dict[tuple[int, int], tuple[object, ...]] = {}
    timed = jobs.join(frames.jobs.select("job_id", "done_at"), on="job_id").sort("done_at", "job_id")
    for job, part, position, supplier, failed, at in timed.iter_rows():
        if job in where and (part, position) in place:
            key = where[job], place[part, position]
            told[key] = (at, job, *key, -1 if supplier is None else number[supplier], int(failed))
    table = np.array([entry[2:] for entry in sorted(told.values())], dtype=np.int64).reshape(-1, 4)
    book = dict(frames.part_suppliers.select("part", "supplier").iter_rows())
    return Supplied(
        visit=table[:, 0], row=table[:, 1], supplier=table[:, 2], failed=table[:, 3].astype(float), names=names,
        buys=np.array([number.get(book.get(part.part), -1) for part in candidates], dtype=np.int64),
    )  # fmt: skip


def _fitted(job_parts: pl.DataFrame, faults: list[Fault], candidates: list[Candidate]) -> Bools:
    place = {candidate.key: i for i, candidate in enumerate(candidates)}
    where = {
        job: (v, number) for v, fault in enumerate(faults) for number, jobs in enumerate(fault.attempts) for job in jobs
    }
    fitted = np.zeros((len(faults), MOST_ATTEMPTS, len(candidates)), dtype=bool)
    for job, part, position in job_parts.select("job_id", "part", pl.col("position").fill_null("")).iter_rows():
        if job in where and (part, position) in place:
            fitted[*where[job], place[part, position]] = True
    return fitted
