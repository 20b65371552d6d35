"""Numbers pinned to six digits: every constant of the evidence, changed by half, changes one of them.

Where the arithmetic can be written down it stands beside the value; values that only the program can work out are
marked "recorded".
"""

import math

import numpy as np
import polars as pl
import pytest

from analysis.evidence import cleared, erase_comparison, worsening
from analysis.evidence.cleared import CureModel, _shrinkage, fit_cure_model, settle
from analysis.statistics.survival import LogRank
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
    monkeypatch.setattr(erase_comparison, "log_rank", lambda *_: LogRank(1.0, 4.0, p))
    assert len(erase_comparison.erased_or_repaired(*erased_and_repaired(10))) == sentences


def test_what_the_pooled_distance_counts_for() -> None:
    apart = np.exp(np.linspace(-40, 40, 12))
    # Fewer than ten codes do not tell: four returns.  Alike codes: no more than 40.  Worlds apart: one at least.
    assert _shrinkage(apart[:9], np.full(9, 8.0)) == 4.0
    assert _shrinkage(np.full(12, 50.0), np.full(12, 8.0)) == 40.0
    assert _shrinkage(apart, np.full(12, 8.0)) == 1.0
    # A code with seven returns is none of the ten, one with eight is.
    assert _shrinkage(apart[:10], np.array([7.0] + [8.0] * 9)) == 4.0
    assert _shrinkage(apart[:10], np.full(10, 8.0)) == 1.0


def drawn(codes: int = 12, jobs: int = 13, late: bool = False) -> pl.DataFrame:
    """Codes of different distances: each nine times awake again, the rest quiet; late: one more after 9,000 km."""
    rows = []
    for code in range(codes):
        for job in range(jobs):
            back = job < 9
            km = (code % 4 + 1) * 9.0 * (job + 1) ** 1.2 if back else 25.0 * (job - 7) * (code % 3 + 1)
            rows.append((f"ABS:C{code:04d}", 0.8 * km if back else km, km if back else None))
    if late:
        rows.append(("ABS:C0000", 300.0, 9_300.0))
    return pl.DataFrame(
        rows, schema={"code": pl.String, "absent_km": pl.Float64, "seen_km": pl.Float64}, orient="row"
    ).with_columns(
        background=pl.lit(None, dtype=pl.String), looked=True, tested=False, seen=pl.col("seen_km").is_not_null(),
        seen_days=pl.col("seen_km") / 31, lost=False, kept=False,
    )  # fmt: skip


def test_the_distances_of_twelve_codes() -> None:
    # Recorded: sixty rounds, from forty kilometres worth four returns, all codes pooled and shrunk towards.
    found = fit_cure_model(drawn(late=True), 40.0)
    assert found.pooled_km == exactly(211.5087775909605)
    assert [found.return_km[f"ABS:C000{n}"] for n in range(4)] == exactly(
        [161.6852292168304, 199.51376463555795, 256.67316310425235, 246.255163613561]
    )
    assert (found.cured, found.new_fault_km) == exactly((0.024226683556002687, 39932.63048556324))
    # Every distance of ``drawn`` was driven at 31 km a day.
    assert found.km_a_day == exactly(31.0)


def test_the_distances_of_two_codes() -> None:
    # Recorded: too few codes to tell how far they differ.
    found = fit_cure_model(drawn(codes=2, jobs=10), 40.0)
    assert found.pooled_km == exactly(79.34983460233865)
    assert list(found.return_km.values()) == exactly([68.0341774179973, 111.54507819231512])


def test_the_distances_of_codes_of_which_half_stay_away() -> None:
    # Recorded: how many of a code's outcomes stay away is drawn towards all codes together.
    found = fit_cure_model(drawn(codes=2, jobs=26), 40.0)
    assert found.cured == exactly(0.6267944468935382)
    assert list(found.return_km.values()) == exactly([72.84839369503183, 113.0871640425427])


def test_sixty_rounds_are_enough_and_no_more_are_paid_for(monkeypatch) -> None:
    calls = []
    real = cleared._likelihoods
    monkeypatch.setattr(cleared, "_likelihoods", lambda *given: calls.append(1) or real(*given))
    found = fit_cure_model(drawn(), 40.0)
    assert len(calls) == 3 * 60  # all codes together, each alone, each leaning on all
    monkeypatch.setattr(cleared, "ROUNDS", 600)
    assert fit_cure_model(drawn(), 40.0).pooled_km == pytest.approx(found.pooled_km, rel=1e-6)


def seen(**told: object) -> dict[str, object]:
    """What ``settle`` says of one code of 20 km and 40,000 km to a new fault, of which only ``told`` was seen."""
    blank = {"code": "A:1", "background": None, "looked": True, "tested": False, "seen": False}
    distances = ("absent_km", "seen_km", "seen_days", "lost_km", "lost_days", "lost_after_km")
    blank |= dict.fromkeys(distances) | {"lost": False, "kept": False}
    kinds = dict.fromkeys(("code", "background"), pl.String) | dict.fromkeys(distances, pl.Float64)
    kinds |= dict.fromkeys(("looked", "tested", "seen", "lost", "kept"), pl.Boolean)
    model = CureModel(return_km={"A:1": 20.0}, pooled_km=1.0, returns={}, cured=0.5, new_fault_km=4e4, km_a_day=25.0)
    return settle(pl.DataFrame([blank | told], schema=kinds), model).row(0, named=True)


def test_nothing_is_surer_than_one_in_a_thousand_and_a_monitor_is_worth_nine_in_ten() -> None:
    assert seen(absent_km=5_000.0)["lik_still"] == exactly(0.001)
    assert seen(seen=True, seen_km=1.0)["lik_gone"] == exactly(0.001)
    assert seen(tested=True)["lik_still"] == exactly(0.1 / 0.9)
    assert seen(tested=True)["cleared_chance"] == exactly(0.9)


def test_what_is_proven_and_what_has_recurred() -> None:
    # At 20 km, 20 log 9 km leave one in ten; 20 log 8 leave one in nine.
    assert [seen(absent_km=20 * math.log(n))["outcome"] for n in (9.01, 8.0)] == ["cleared", "unproven"]
    # Quiet for 20 log k km and awake 20,000 km later: by hand k exp(-d / 4e4) (1 - exp(-.5)) against 1, even at 2.54.
    assert [
        seen(absent_km=20 * math.log(k), seen=True, seen_km=20_000.0 + 20 * math.log(k))["outcome"] for k in (2.7, 2.4)
    ] == ["recurred", "returned"]


def test_a_day_is_worth_25_km_before_any_car_tells() -> None:
    assert fit_cure_model(drawn().clear(), 40.0).km_a_day == 25.0
    # Seen after one day, 25 km: by hand.
    gone, still = 1 - math.exp(-25 / 4e4), 1 - math.exp(-25 / 20)
    assert seen(seen=True, seen_days=1.0)["lik_gone"] == exactly(max(gone / still, 0.001))
    assert seen(seen=True, seen_days=40.0)["lik_gone"] == exactly(1 - math.exp(-1_000 / 4e4))


def test_forty_thousand_km_to_a_new_fault_before_any_return() -> None:
    assert fit_cure_model(drawn().clear(), 40.0).new_fault_km == 40_000.0


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
