"""What the tests that pin numbers of the diagnosis share: beliefs and counts of a few parts and codes."""

import numpy as np
import pytest

from analysis.diagnosis.learning.e_step import Counts
from analysis.diagnosis.learning.fit import m_step
from analysis.diagnosis.model.parameters import NoisyOrParameters
from analysis.diagnosis.model.priors import TOLD, Prior
from tests.support.diagnosis_dealer import Dealer


def exactly(expected):
    return pytest.approx(expected, rel=1e-6, abs=1e-12)


def believed(parts: int, codes: int) -> Prior:
    """Links of .4 worth two visits, each code a statement of its own."""
    none = np.zeros((parts, codes))
    return Prior(
        link=none + 0.4, visits=none + 2.0, named=none > 1, pattern=none > 1, alike=none + 1.0,
        standing=np.zeros(parts, dtype=bool), passing=np.zeros(parts, dtype=bool),
        part=np.arange(parts), place=np.full(parts, -1), elsewhere=none > 1,
        network=np.zeros(none.shape[1], dtype=bool),
        kin=np.zeros((0, 3)), untold=np.full(none.shape, TOLD),
    )  # fmt: skip


def counted(**some: object) -> NoisyOrParameters:
    """One part, two codes, two makes; what is not given was never seen."""
    none, codes = np.zeros((1, 2)), np.zeros(2)
    blank = {
        "set_by": none, "chances": none, "faults": np.zeros((2, 1)), "visits": np.zeros((2, 1)), "leaked": codes,
        "stayed": codes, "reads": codes, "sizes": np.zeros(4), "renewed": np.zeros(1), "in_vain": np.zeros(1),
    }  # fmt: skip
    return m_step(Counts(**(blank | some)), believed(1, 2), ["brillon", "corvane"])


def many_parts() -> Dealer:
    """Fourteen parts that one code names, one of them fitted once."""
    shop = Dealer()
    names = [f"gauge{chr(97 + i)}" for i in range(14)]
    shop.code("ECM:P0100", "no signal", " / ".join(names))
    for name in names:
        shop.part(name)
    shop.job({"ECM:P0100": "cleared"}, (names[0],))
    shop.car("car", ["ECM:P0100"])
    return shop
