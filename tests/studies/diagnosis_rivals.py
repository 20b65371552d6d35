"""The plain ways to choose a part that the list is held against: each gives every part of every car a score.

All get the same past jobs.  None knows the distances driven, background or several faults at once; that is the point.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import polars as pl
from sklearn.linear_model import LogisticRegression

from analysis.diagnosis import DiagnosisFrames
from tests.support.diagnosis_world import Truth

Scores = dict[str, np.ndarray]
"""For each car one number a part; parts with nothing for them stand at 0 or below."""
NEIGHBOURS = 15


@dataclass(frozen=True)
class Table:
    """Past jobs as arrays: present (jobs, codes), fitted (jobs, parts), gone (jobs,): every code stayed away."""

    present: np.ndarray
    fitted: np.ndarray
    lik_cleared: np.ndarray

    @property
    def cures(self) -> tuple[np.ndarray, np.ndarray]:
        """Codes and part of each cure; a job that fitted several parts counts once for each."""
        job, part = np.nonzero(self.fitted & self.lik_cleared[:, None])
        return self.present[job], part


def past_table(truth: Truth, frames: DiagnosisFrames) -> Table:
    """Lay out the past jobs; one from which no code returned is taken for a cure."""
    column = {code: d for d, code in enumerate(truth.codes["code"])}
    jobs = frames.jobs.height
    present = np.zeros((jobs + 1, len(column)))
    fitted, gone = np.zeros((jobs + 1, len(truth.link)), dtype=bool), np.ones(jobs + 1, dtype=bool)
    real = frames.outcomes.filter(pl.col("background").is_null())
    for job, code, outcome in real.select("job_id", "code", "outcome").iter_rows():
        present[job, column[code]] = 1.0
        gone[job] &= outcome != "returned"
    for job, part in frames.job_parts.select("job_id", "part").iter_rows():
        fitted[job, int(part[6:])] = True
    gone &= fitted.any(axis=1) & present.any(axis=1)
    return Table(present, fitted, gone)


def named(truth: Truth, _past: Table) -> Callable[[np.ndarray], np.ndarray]:
    """What the codes name: the part that most of the car's codes name."""
    return lambda present: truth.named[:, present > 0].sum(axis=1).astype(float)


def confidence(_truth: Truth, past: Table) -> Callable[[np.ndarray], np.ndarray]:
    """Pair confidence: of all jobs with the code, how often it went for good when the part was fitted."""
    fixed = past.fitted[past.lik_cleared].T.astype(float) @ past.present[past.lik_cleared]
    share = fixed / np.maximum(past.present.sum(axis=0), 1)
    return lambda present: share[:, present > 0].max(axis=1)


def naive_bayes(_truth: Truth, past: Table) -> Callable[[np.ndarray], np.ndarray]:
    """Naive Bayes on the cures, with half a count of smoothing."""
    label = past.fitted[past.lik_cleared].astype(float)
    total = label.sum(axis=0)
    rate = (label.T @ past.present[past.lik_cleared] + 0.5) / (total[:, None] + 1.0)
    prior = np.log((total + 0.5) / (total.sum() + 0.5 * len(total)))

    def score(present: np.ndarray) -> np.ndarray:
        logs = np.where(present > 0, np.log(rate), np.log1p(-rate)).sum(axis=1) + prior
        return np.where(total > 0, np.exp(logs - logs.max()), 0.0)

    return score


def nearest(truth: Truth, past: Table) -> Callable[[np.ndarray], np.ndarray]:
    """Nearest cases: the cures whose codes overlap most (Jaccard), each voting by its overlap."""
    codes, part = past.cures

    def score(present: np.ndarray) -> np.ndarray:
        votes = np.zeros(len(truth.link))
        both = codes @ present
        near = both / np.maximum(codes.sum(axis=1) + present.sum() - both, 1)
        closest = np.argsort(-near, kind="stable")[:NEIGHBOURS]
        np.add.at(votes, part[closest], near[closest])
        return votes

    return score


def logistic(truth: Truth, past: Table) -> Callable[[np.ndarray], np.ndarray]:
    """Multinomial logistic regression of the part on the codes, over the cures, with the library's own penalty."""
    codes, part = past.cures
    if len(set(part.tolist())) < 2:
        return lambda _present: np.zeros(len(truth.link))
    model = LogisticRegression(max_iter=500).fit(codes, part)

    def score(present: np.ndarray) -> np.ndarray:
        chances = np.zeros(len(truth.link))
        chances[model.classes_] = model.predict_proba(present[None])[0]
        return chances

    return score


RIVALS = {
    "named": named,
    "confidence": confidence,
    "naive bayes": naive_bayes,
    "nearest cases": nearest,
    "logistic regression": logistic,
}


def rival_scores(name: str, truth: Truth, frames: DiagnosisFrames) -> Scores:
    """Score every part of every car in stock by one of ``RIVALS``."""
    column = {code: d for d, code in enumerate(truth.codes["code"])}
    score = RIVALS[name](truth, past_table(truth, frames))
    scores = {}
    real = frames.open_codes.filter(pl.col("background").is_null())
    for vehicle, codes in real.group_by("vehicle").agg("code").sort("vehicle").iter_rows():
        present = np.zeros(len(column))
        present[[column[code] for code in codes]] = 1.0
        scores[vehicle] = score(present)
    return scores


def most_likely(scores: np.ndarray, cents: np.ndarray, most: int = 3) -> list[int]:
    """Return the parts with the highest scores, the cheaper of equals first; none whose score is 0."""
    order = np.lexsort((cents, -np.round(scores, 12)))[:most]
    return [int(i) for i in order if scores[i] > 0]
