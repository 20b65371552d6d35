"""Numbers pinned to six digits: every constant of the evidence, changed by half, changes one of them.

Where the arithmetic can be written down it stands beside the value; values that only the program can work out are
marked "recorded".
"""

import numpy as np
import polars as pl
import pytest

from analysis.evidence import erase_comparison, worsening
from analysis.evidence.returns import _cured_elsewhere, _effective_returns, return_distances
from tests.support.diagnosis_dealer import Dealer


def exactly(expected):
    return pytest.approx(expected, rel=1e-6)


def erased_and_repaired(erased: int) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Bare erases whose code was back at once, and ten repairs after which it stayed away."""
    shop = Dealer()
    shop.code("ABS:C0031")
    for _ in range(erased):
        shop.job({"ABS:C0031": "returned"})
    for _ in range(10):
        shop.job({"ABS:C0031": "cleared"}, ("sensor",))
    past = shop.past()
    return past.outcomes, past.jobs


@pytest.mark.parametrize(("erased", "sentences"), [(3, 0), (5, 1)])
def test_four_of_each_are_compared(erased, sentences) -> None:
    assert len(erase_comparison.erased_or_repaired(*erased_and_repaired(erased))) == sentences


@pytest.mark.parametrize(("p", "sentences"), [(0.04, 1), (0.06, 0)])
def test_one_time_in_twenty_is_put_down_to_chance(monkeypatch, p, sentences) -> None:
    monkeypatch.setattr(erase_comparison, "log_rank", lambda *_: (1.0, 4.0, p))
    assert len(erase_comparison.erased_or_repaired(*erased_and_repaired(10))) == sentences


def test_what_the_pooled_distance_counts_for() -> None:
    apart = np.exp(np.linspace(-40, 40, 12))
    # Fewer than ten codes do not tell: four returns.  Alike codes: no more than 40.  Worlds apart: one at least.
    assert _effective_returns(apart[:9], np.full(9, 8)) == 4.0
    assert _effective_returns(np.full(12, 50.0), np.full(12, 8)) == 40.0
    assert _effective_returns(apart, np.full(12, 8)) == 1.0
    # A code with seven returns is none of the ten, one with eight is.
    assert _effective_returns(apart[:10], np.array([7] + [8] * 9)) == 4.0
    assert _effective_returns(apart[:10], np.full(10, 8)) == 1.0


def test_how_far_codes_differ_in_what_stays_away() -> None:
    # A beta of mean .5 and deviation .2: .25 / .04 - 1 = 5.25 outcomes, half of each kind.
    assert _cured_elsewhere(0.5) == exactly((2.625, 2.625))


def drawn(codes: int = 12, jobs: int = 12) -> pl.DataFrame:
    """Twelve codes of different distances: eight returns and four that have not come back for each."""
    rows = []
    for code in range(codes):
        for job in range(jobs):
            back = job < 8
            km = (code % 4 + 1) * 9.0 * (job + 1) ** 1.2 if back else 25.0 * (job - 6) * (code % 3 + 1)
            outcome = "returned" if back else "unproven"
            seen = (0.8 * km, km) if back else (km, None)
            rows.append((code * jobs + job, f"ABS:C{code:04d}", None, outcome, *seen))
    names = ("job_id", "code", "background", "outcome", "km_proven", "km_to_return")
    kinds = (pl.Int64, pl.String, pl.String, pl.String, pl.Float64, pl.Float64)
    return pl.DataFrame(rows, schema=dict(zip(names, kinds, strict=True)), orient="row")


def test_the_distances_of_twelve_codes() -> None:
    # Recorded: sixty rounds, from forty kilometres worth four returns, all codes pooled and shrunk towards.
    found = return_distances(drawn())
    assert found.tau_km == exactly(196.9053250568)
    assert found.distances["tau_km"].to_list()[:4] == exactly(
        [135.1378244072, 190.0937806904, 240.9499334625, 226.2699747495]
    )


def test_the_distances_of_two_codes() -> None:
    # Recorded: too few codes to tell how far they differ.
    found = return_distances(drawn(codes=2, jobs=10))
    assert found.tau_km == exactly(82.2298000633)
    assert found.distances["tau_km"].to_list() == exactly([71.2264577558, 114.5942329739])


def worse(late: int, many: int, p: float, monkeypatch) -> int:
    """How many warnings a part gets whose last jobs failed, if chance would do that so often."""
    shop = Dealer()
    shop.code("ABS:C0031")
    for day in range(2 * many):
        shop.job({"ABS:C0031": "returned" if day >= 2 * many - late else "cleared"}, ("sensor",), day=day + 1)
    monkeypatch.setattr(worsening, "more_returns_p", lambda *_: p)
    return worsening.worse_parts(shop.past()).height


@pytest.mark.parametrize(("many", "p", "warnings"), [(5, 0.04, 1), (5, 0.06, 0), (3, 0.04, 0)])
def test_a_part_is_worse_from_four_jobs_and_one_time_in_twenty_on(monkeypatch, many, p, warnings) -> None:
    assert worse(2, many, p, monkeypatch) == warnings
