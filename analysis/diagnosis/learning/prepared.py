"""What is learned from, made of the facts: the parts in their places, the beliefs before any job, the past visits.

Jobs of other dealers say which places a part can be in, which numbers makes share and where parts sit; what they teach
of parts and codes beyond that is counted apart (``elsewhere.py``) and is not among the visits.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np
import polars as pl

from analysis.diagnosis.inputs.candidates import Candidate, list_candidates
from analysis.diagnosis.inputs.frames import DiagnosisFrames, PastElsewhere
from analysis.diagnosis.inputs.make_kinship import codes_apart
from analysis.diagnosis.inputs.text_matching import Reader
from analysis.diagnosis.inputs.training_data import Bools, Visits, gather_visits
from analysis.diagnosis.model.priors import Prior, text_priors, with_passing, with_standing, with_supply_parts

Row = tuple[str, ...]
"""Part and position; of a cause that is no part a blank, a blank and its codes."""


@dataclass(frozen=True, kw_only=True)
class Prepared:
    """What is learned from.

    Attributes:
        frames: The dealer's own facts, codes in order.
        candidates: The parts in their places, those that other dealers alone know of among them.
        prior: The beliefs before any job.
        visits: The dealer's own past visits.
        groups: The codes of each standing cause, as columns.
        supply: (codes,) the code tells that its module's supply is low.
        survivors: Of each standing cause on how many cars its codes outlived a job, those among them on which they are
            looked past, of which the visits tell nothing.
    """

    frames: DiagnosisFrames
    candidates: list[Candidate]
    prior: Prior
    visits: Visits
    groups: list[list[int]]
    supply: Bools
    survivors: list[int]

    @cached_property
    def codes(self) -> list[str]:
        """The code of each column."""
        return self.frames.codes["code"].to_list()

    @property
    def rows(self) -> list[Row]:
        """What each row of the counts stands for."""
        causes = [("", "", *(self.codes[d] for d in group)) for group in self.groups]
        return [*(part.key for part in self.candidates), *causes, *([("", "")] if self.supply.any() else [])]

    def without_facts(self) -> "Prepared":
        """Return the same without the rows of jobs and cars, for other dealers' jobs to be put in their place."""
        kept = ("codes", "parts", "trade_words")
        facts = {each.name: getattr(self.frames, each.name) for each in fields(self.frames)}
        return replace(
            self,
            frames=DiagnosisFrames(**{name: told if name in kept else told.clear() for name, told in facts.items()}),
        )

    def visits_of(self, frames: DiagnosisFrames) -> Visits:
        """Return the past visits of frames with the same codes, over the same parts, causes and makes."""
        return _with_causes(
            gather_visits(frames, self.candidates, self.visits.make_names), frames, self.groups, self.supply
        )


def prepare(frames: DiagnosisFrames, families: pl.DataFrame, others: Sequence[PastElsewhere] = ()) -> Prepared:
    """Read the facts.

    Args:
        frames: The dealer's own.
        families: One row per family: codes (list of text) and root; may be empty.
        others: Past jobs of other dealers.
    """
    from analysis.diagnosis.inputs.standing_groups import (  # noqa: PLC0415 - it loads networkx
        FEWEST_CARS,
        standing_groups,
        supply_codes,
        survivors,
        with_namesakes,
    )

    frames, reader = in_order(frames), Reader(frames.trade_words)
    every, candidates = frames, list_candidates(frames, reader)
    if others:
        every = _joined(frames, [spelled_as_here(told, candidates, reader) for told in others])
        candidates = list_candidates(every, reader)
    prior = text_priors(candidates, every, families, reader)
    visits = gather_visits(frames, candidates, {make for told in others for make in told.jobs["make"].fill_null("")})
    prior = replace(prior, makes=np.array(codes_apart(every, visits.make_names), dtype=float).reshape(-1, 4))
    supply = supply_codes(frames.codes)
    prior = with_supply_parts(prior, candidates, supply)
    groups = with_namesakes(standing_groups(visits, frames, prior.named & ~prior.network), visits, frames.codes)
    outlived = zip(groups, survivors(groups, frames), strict=True)
    kept = [(group, cars) for group, cars in outlived if cars >= FEWEST_CARS]
    groups = [group for group, _ in kept]
    prior = with_standing(prior, groups)
    return Prepared(
        frames=frames,
        candidates=candidates,
        prior=with_passing(prior, supply) if supply.any() else prior,
        visits=_with_causes(visits, frames, groups, supply),
        groups=groups,
        supply=supply,
        survivors=[cars for _, cars in kept],
    )


def in_order(frames: DiagnosisFrames) -> DiagnosisFrames:
    """Return the facts with the codes sorted: every open or past code has a column, in a fixed order.

    Args:
        frames: The facts.
    """
    return replace(frames, codes=frames.codes.sort("code"))


def _with_causes(visits: Visits, frames: DiagnosisFrames, groups: list[list[int]], supply: Bools) -> Visits:
    visits = visits.with_causes(len(groups))
    if not supply.any():
        return visits
    erased = set(frames.jobs.filter(pl.col("erased"))["job_id"])
    return visits.with_erased(np.flatnonzero(supply).tolist(), erased)


def spelled_as_here(told: PastElsewhere, candidates: list[Candidate], reader: Reader) -> PastElsewhere:
    """Return another dealer's jobs with parts that mean the same as one here under its name.

    Args:
        told: His jobs.
        candidates: The parts here.
        reader: Reads texts in the words of the trade.
    """
    here = {word: part.part for part in candidates for word in part.wordings}
    spoken = {part: here.get(reader.read(part), part) for part in told.job_parts["part"].drop_nulls().unique()}
    return replace(told, job_parts=told.job_parts.with_columns(pl.col("part").replace(spoken)))


def with_jobs_of(frames: DiagnosisFrames, told: PastElsewhere) -> DiagnosisFrames:
    """Return the facts with another dealer's jobs in the place of the own ones; who supplied his parts is not known."""
    jobs = {
        each.name: _as_columns(getattr(told, each.name), getattr(frames, each.name)) for each in fields(PastElsewhere)
    }
    return replace(frames, **jobs)


def _as_columns(told: pl.DataFrame, mine: pl.DataFrame) -> pl.DataFrame:
    if "supplier" in told.columns:
        told = told.with_columns(pl.lit(None, pl.String).alias("supplier"))
    return told.select(mine.columns).cast(mine.schema)


def _joined(frames: DiagnosisFrames, others: list[PastElsewhere]) -> DiagnosisFrames:
    """Return the facts with the jobs of other dealers behind the own ones.

    What they say of codes and parts that are not known here is left out.
    """
    start = _after(frames.jobs)
    tables = {each.name: [getattr(frames, each.name)] for each in fields(PastElsewhere)}
    for dealer, told in enumerate(others):
        for name, mine in tables.items():
            moved = getattr(told, name).with_columns(pl.col("job_id") + start)
            if "vehicle" in moved.columns:
                moved = moved.with_columns(pl.format("{} {}", pl.lit(dealer), "vehicle").alias("vehicle"))
            mine.append(_as_columns(moved, mine[0]))
        start += _after(told.jobs)
    return replace(frames, **{name: pl.concat(mine) for name, mine in tables.items()})


def _after(jobs: pl.DataFrame) -> int:
    return max((int(job) for job in jobs["job_id"]), default=0) + 1
