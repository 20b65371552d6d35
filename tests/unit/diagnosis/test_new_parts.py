"""How far a part's own record of new parts in vain counts: as far as parts are seen to differ."""

import numpy as np
import pytest
from scipy.stats import betabinom

from analysis.diagnosis.learning.e_step import Counts
from analysis.diagnosis.learning.fit import m_step
from analysis.diagnosis.model.priors import BAD_NEW_PART, BAD_STRENGTHS, TOLD, Prior

BATTERS = [18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7]
"""Hits in 45 times at bat: B. Efron and C. Morris, "Stein's paradox in statistics", Scientific American 236 (1977)."""
AT_BAT = 45
SHRUNK = {18: 0.294, 7: 0.242}
"""What the article makes of the best and the worst of them."""


def bad(in_vain: list[float], renewed: list[float]) -> np.ndarray:
    """The chance that a new part does not cure, as it is believed after so many that did not."""
    parts = len(in_vain)
    none = np.zeros((parts, 1))
    prior = Prior(
        link=none + 0.5,
        visits=none + 1.0,
        named=none > 1,
        pattern=none > 1,
        alike=none + 1.0,
        standing=np.zeros(parts, dtype=bool),
        passing=np.zeros(parts, dtype=bool),
        part=np.arange(parts),
        place=np.full(parts, -1),
        elsewhere=none > 1,
        network=np.zeros(none.shape[1], dtype=bool),
        kin=np.zeros((0, 3)),
        untold=np.full(none.shape, TOLD),
    )
    counts = Counts(
        set_by=none,
        chances=none,
        faults=np.zeros((1, parts)),
        visits=np.zeros((1, 1)),
        leaked=np.zeros(1),
        stayed=np.zeros(1),
        reads=np.zeros(1),
        sizes=np.zeros(4),
        renewed=np.array(renewed, dtype=float),
        in_vain=np.array(in_vain, dtype=float),
    )
    return m_step(counts, prior, ["corvane"]).bad


def test_nothing_known_gives_the_belief():
    assert bad([0.0], [0.0]) == pytest.approx([BAD_NEW_PART])


def test_the_batters_of_efron_and_morris_lean_as_far_as_published():
    found = bad([float(hits) for hits in BATTERS], [float(AT_BAT)] * len(BATTERS))
    for hits, average in SHRUNK.items():
        # Theirs is a normal model, ours a binomial one with a belief worth 20 before it.
        assert found[BATTERS.index(hits)] == pytest.approx(average, abs=0.012)


def test_parts_that_are_alike_share_one_record_and_unlike_ones_keep_theirs():
    alike = bad([2.0] * 20 + [6.0], [40.0] * 21)
    assert alike[-1] < 0.08, "six of 40 among parts of one in twenty is most likely luck"
    unlike = bad([0.0] * 10 + [16.0] * 10, [40.0] * 20)
    assert unlike[0] < 0.02
    assert unlike[-1] == pytest.approx(0.4, abs=0.03)


@pytest.mark.parametrize(("in_vain", "renewed"), [(30, 30), (2, 40), (0, 15)])
def test_a_part_does_not_lean_on_itself(in_vain, renewed):
    # Independent route: scipy's beta-binomial around the belief, for the only part there is.
    leans = np.array(BAD_STRENGTHS)
    weight = betabinom.pmf(in_vain, renewed, BAD_NEW_PART * leans, (1 - BAD_NEW_PART) * leans) / np.sqrt(leans)
    mean = (weight * (BAD_NEW_PART * leans + in_vain) / (leans + renewed)).sum() / weight.sum()
    assert bad([float(in_vain)], [float(renewed)]) == pytest.approx([mean])
