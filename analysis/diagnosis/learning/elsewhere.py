"""What the jobs of other dealers teach: each set by itself, added up as far as it foretells the dealer's own visits.

Each set is learned from alone, in the dealer's own words, and leaves sums: how often parts failed and set which codes.
The rows stay with who counts them, a worker process for instance; the sums are added to the dealer's own counts, and
forgotten one by one, so that five hundred sets need no more memory than two.

How much a set counts is told by the dealer's own visits: what became of each is foretold from all the others and the
set, at several weights.

Source:
    J. G. Ibrahim and M.-H. Chen, "Power prior distributions for regression models", Statistical Science 15 (2000): data
    from elsewhere enter with their likelihood raised to a power between 0 and 1.  L. Breiman, J. H. Friedman, R. A.
    Olshen and C. J. Stone, Classification and Regression Trees (1984), section 3.4.3: what is within a standard error
    of the best counts as no worse.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from typing import Any, TypeVar

import numpy as np
import polars as pl

from analysis.diagnosis.inputs.frames import DiagnosisFrames, PastElsewhere
from analysis.diagnosis.inputs.text_matching import Reader
from analysis.diagnosis.inputs.training_data import Floats, stored_and_erased
from analysis.diagnosis.learning.e_step import Counts, e_step
from analysis.diagnosis.learning.fit import Rounds, rounds_of, taught_by
from analysis.diagnosis.learning.prepared import Prepared, prepare, spelled_as_here, with_jobs_of

WEIGHTS = (0.0, 0.1, 0.3, 1.0)
"""Another dealer's visit may count so much of one's own."""
ERRORS = 2.0
AT_ONCE = 20
"""So many sets are handed to a worker together."""
Spread = Callable[[Callable[[Any], Any], Sequence[Any]], Iterable[Any]]
"""Does one piece of work on every item, somewhere, and yields the results in the items' order."""
Key = TypeVar("Key")


@dataclass(frozen=True, kw_only=True)
class Sums:
    """What sets teach, each counted by its weight.

    Attributes:
        counts: Their counts.
        worked_on: (rows,) visits in which the part was worked on.
        erased: (2, 2) jobs that only erased stored codes: those after which they stayed away, and all; first of cars
            that nobody had worked on before.
    """

    counts: Counts
    worked_on: Floats
    erased: Floats

    def plus(self, other: "Sums", weight: float) -> "Sums":
        """Return these sums and so much of others."""
        return Sums(
            counts=self.counts.plus(other.counts, weight),
            worked_on=self.worked_on + weight * other.worked_on,
            erased=self.erased + weight * other.erased,
        )


@dataclass(frozen=True, kw_only=True)
class Elsewhere:
    """What other dealers' jobs teach, as far as they are believed.

    Attributes:
        past: Their jobs, by name.
        words: What the sums are over.
        weights: How much each set counts.
        sums: All sets together.
    """

    past: Mapping[str, PastElsewhere]
    words: Prepared
    weights: Mapping[str, float]
    sums: Sums

    @property
    def used(self) -> list[PastElsewhere]:
        """The jobs of the sets that count at all."""
        return [self.past[name] for name, weight in self.weights.items() if weight]

    @property
    def jobs(self) -> float:
        """How many own jobs all of them are worth."""
        return sum(jobs * weight for _, jobs, weight in self.looked)

    @property
    def looked(self) -> tuple[tuple[str, int, float], ...]:
        """Name, jobs and weight of each set."""
        return tuple((name, self.past[name].jobs.height, weight) for name, weight in self.weights.items())

    def over(self, made: Prepared) -> Sums:
        """Return the sums over the parts, causes, codes and makes of what is learned from now.

        Args:
            made: What is learned from.
        """
        mine, theirs = self.words, made
        row = _same(mine.rows, theirs.rows)
        code = _same(mine.codes, theirs.codes)
        make = _same(mine.visits.make_names, theirs.visits.make_names)
        split = _same(*([words.codes[d] for d in words.prior.apart] for words in (mine, theirs)))
        axes = {
            "set_by": (row, code),
            "chances": (row, code),
            "cleared": (row, code),
            "faults": (make, row),
            "visits": (make,),
        }
        axes |= dict.fromkeys(("leaked", "stayed", "reads"), (code,))
        axes |= dict.fromkeys(("renewed", "in_vain", "trials"), (row,))
        axes |= dict.fromkeys(("set_by_make", "chances_make"), (make, row, split))
        counts = self.sums.counts
        moved = {name: _moved(getattr(counts, name), places) for name, places in axes.items()}
        return replace(self.sums, counts=replace(counts, **moved), worked_on=_moved(self.sums.worked_on, (row,)))


def learn_elsewhere(
    frames: DiagnosisFrames,
    families: pl.DataFrame,
    others: Mapping[str, PastElsewhere],
    moments: Sequence[datetime] = (),
    spread: Spread = map,
) -> dict[datetime | None, Elsewhere]:
    """Learn from the jobs of other dealers, each set by itself, and say how much each counts.

    A set's weight is of ``WEIGHTS`` the largest under which what became of the dealer's own visits is foretold no
    worse than under any other, but for two standard errors of the difference: more visits teach more, unless they
    mislead.  Where there is no own visit nothing speaks against a set.

    Args:
        frames: The dealer's own facts.
        families: One row per family: codes (list of text) and root; may be empty.
        others: Past jobs of other dealers, by name.
        moments: For each of these the weights are chosen anew, by the own visits before it alone.
        spread: Does the counting, for instance in worker processes.

    Returns:
        What is believed at each moment, and today under None; empty where there is no set.
    """
    names = sorted(others)
    made = prepare(frames, families, [others[name] for name in names])
    first = dict(frames.jobs.select("job_id", "done_at").iter_rows())
    began = np.array([first[attempts[0][0]] for attempts in made.visits.jobs], dtype="datetime64[us]")
    own = rounds_of(made.visits, made.prior) if made.visits.jobs else None
    weights: dict[datetime | None, dict[str, float]] = {moment: {} for moment in (None, *moments)}
    sums: dict[datetime | None, Sums] = {}
    for name, set_sums in zip(names, _each(made, [others[name] for name in names], spread), strict=True):
        told = _foretold(own, sums.get(None), set_sums)
        for moment, mine in weights.items():
            mine[name] = _weight(told if moment is None else told[:, began < np.datetime64(moment)])
            sums[moment] = sums.get(moment, _nothing(set_sums)).plus(set_sums, mine[name])
        if own is not None and weights[None][name]:
            own = own.after(sums[None].counts)
    return {
        moment: Elsewhere(past=others, words=made, weights=weights[moment], sums=sum_) for moment, sum_ in sums.items()
    }


def _nothing(like: Sums) -> Sums:
    return like.plus(like, -1.0)


def _foretold(own: Rounds | None, so_far: Sums | None, one: Sums) -> Floats:
    """Return (weights, visits): how well what became of each own visit is foretold with a set at each weight."""
    if own is None:
        return np.zeros((len(WEIGHTS), 0))
    found = []
    for weight in WEIGHTS:
        counts = one.plus(one, weight - 1) if so_far is None else so_far.plus(one, weight)
        parameters = own.parameters_of(own.counts, counts.counts)
        seen, _ = e_step(own.visits, parameters, own.shares, counts.counts, foretell=True)
        found.append(seen.evidence)
    return np.array(found)


def _weight(told: Floats) -> float:
    """Return the weight of a set of which (weights, visits) log likelihoods are told.

    The error of a sum of differences is told by their squares, as if they were 0 in the mean: so four visits at least
    are needed to speak against a set, however alike they are.
    """
    worse = told[told.sum(axis=1).argmax()] - told
    fine = worse.sum(axis=1) <= ERRORS * np.sqrt((worse**2).sum(axis=1))
    return max(weight for weight, yes in zip(WEIGHTS, fine, strict=True) if yes)


def _each(made: Prepared, others: Sequence[PastElsewhere], spread: Spread) -> Iterator[Sums]:
    """Yield what each set teaches, in their order."""
    runs = [others[at : at + AT_ONCE] for at in range(0, len(others), AT_ONCE)]
    for found in spread(partial(_sums, made.without_facts()), runs):
        yield from found


def _sums(made: Prepared, run: Sequence[PastElsewhere]) -> list[Sums]:
    """Count some sets, each by itself."""
    reader, found = Reader(made.frames.trade_words), []
    for told in run:
        frames = with_jobs_of(made.frames, spelled_as_here(told, made.candidates, reader))
        visits = made.visits_of(frames)
        found.append(
            Sums(
                counts=taught_by(visits, made.prior),
                worked_on=visits.worked_on.sum(axis=0, dtype=float),
                erased=np.array(stored_and_erased(frames), dtype=float),
            )
        )
    return found


def _same(theirs: Sequence[Key], mine: Sequence[Key]) -> tuple[list[int], list[int], int]:
    """Return where the same things stand there and here, and how many there are here."""
    place = {key: at for at, key in enumerate(theirs)}
    both = [(place[key], at) for at, key in enumerate(mine) if key in place]
    return [there for there, _ in both], [here for _, here in both], len(mine)


def _moved(table: Floats, axes: tuple[tuple[list[int], list[int], int], ...]) -> Floats:
    """Return a table with the rows and columns of here; what is not known there is 0."""
    beyond = table.shape[len(axes) :]
    found = np.zeros((*(many for _, _, many in axes), *beyond))
    found[np.ix_(*(here for _, here, _ in axes))] = table[np.ix_(*(there for there, _, _ in axes))]
    return found
