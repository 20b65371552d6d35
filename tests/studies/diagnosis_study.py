"""How good is the list in fleets whose truth is known?

    python -m tests.studies.diagnosis_study [dirty] [worlds] [predictions]

prints, for 0 to 600 past visits, how often each way to choose names a faulty part and what its lists cost, as a ratio
to the policy that knows the planted parameters; then whether the list's chances and intervals hold; then what each
piece of the method is worth.  With ``predictions`` only the middle one.  The seeds are used for nothing else.
"""

import sys
from collections.abc import Callable, Iterable

import numpy as np
import polars as pl

from analysis.diagnosis import DiagnosisFrames
from tests.studies.diagnosis_ablations import ABLATIONS, play_without
from tests.studies.diagnosis_calibration import predictions, reliability
from tests.studies.diagnosis_knowing import play_knowing
from tests.studies.diagnosis_rivals import RIVALS, rival_scores
from tests.support.diagnosis_play import Played, Score, play_ours, play_scores, score_of
from tests.support.diagnosis_world import Truth, fleet, plant

SIZES = (0, 30, 150, 300, 600)
FIRST_SEED, WORLDS, STOCK = 9000, 24, 60
Policy = Callable[[Truth, DiagnosisFrames], Played]


def _rival(name: str) -> Policy:
    return lambda truth, frames: play_scores(truth, frames, rival_scores(name, truth, frames))


def _ablation(name: str) -> Policy:
    return lambda truth, frames: play_without(name, truth, frames)


POLICIES: dict[str, Policy] = {"list": play_ours} | {name: _rival(name) for name in RIVALS}
PIECES: dict[str, Policy] = {name: _ablation(name) for name in ABLATIONS}


def study(
    sizes: tuple[int, ...], worlds: Iterable[int], stock: int, dirty: bool, policies: dict[str, Policy]
) -> pl.DataFrame:
    """Return one row per size and policy: top1, top3, euro a car, ratio to the knowing policy and its standard error.

    Args:
        sizes: Numbers of past visits.
        worlds: Seeds of the worlds.
        stock: Cars a world.
        dirty: Unread modules, short drives, more leaks.
        policies: The ways to choose; ``knowing`` is added.
    """
    rows = []
    for visits in sizes:
        sums: dict[str, list[Score]] = {}
        for seed in worlds:
            truth = plant(seed, dirty)
            frames, faults, causes = fleet(truth, seed + 1000, visits, stock)
            for name, policy in ({"knowing": play_knowing} | policies).items():
                sums.setdefault(name, []).append(score_of(truth, policy(truth, frames), faults, causes))
        rows += [(visits, name, *_summary(scores, sums["knowing"])) for name, scores in sums.items()]
    return pl.DataFrame(rows, schema=["visits", "policy", "top1", "top3", "euro", "ratio", "error"], orient="row")


def _summary(scores: list[Score], knowing: list[Score]) -> tuple[float, ...]:
    whole = sum(scores, Score())
    mine, best = np.array([s.cents for s in scores]), np.array([s.cents for s in knowing])
    ratio = mine.sum() / best.sum()
    # Linearised error of a ratio of sums over worlds.
    error = float(np.sqrt(((mine - ratio * best) ** 2).sum()) / best.sum())
    return whole.first / whole.judged, whole.three / whole.judged, whole.cents / whole.cars / 100, ratio, error


def main(words: list[str]) -> None:
    """Print every table."""
    dirty = "dirty" in words
    count = next((int(word) for word in words if word.isdigit()), WORLDS)
    worlds = range(FIRST_SEED, FIRST_SEED + count)
    with pl.Config(tbl_rows=200, tbl_cols=20, tbl_width_chars=200, float_precision=3):
        if "predictions" in words:
            print(reliability(predictions(SIZES[1:], worlds, STOCK, dirty)))
            return
        print(study(SIZES, worlds, STOCK, dirty, POLICIES), flush=True)
        print(reliability(predictions(SIZES[1:], worlds, STOCK, dirty)), flush=True)
        print(study((30, 150, 600), worlds[: len(worlds) // 2], STOCK, dirty, PIECES))


if __name__ == "__main__":
    main(sys.argv[1:])
