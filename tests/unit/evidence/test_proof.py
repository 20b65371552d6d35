"""How far a code's own returns say a car must be driven."""

import polars as pl
import pytest

from analysis.evidence.proof import proof_distances


def outcomes(returns: list[float], absent: float = 0.0) -> pl.DataFrame:
    rows = [(job, "ECM:P0301", None, "returned", absent, km) for job, km in enumerate(returns)]
    schema = {
        "job_id": pl.Int64,
        "code": pl.String,
        "background": pl.String,
        "outcome": pl.String,
        "km_proven": pl.Float64,
        "km_to_return": pl.Float64,
    }
    return pl.DataFrame(rows, schema=schema, orient="row")


def test_before_there_are_outcomes_nothing_is_fitted():
    assert proof_distances(None).is_empty()


@pytest.mark.parametrize(("returns", "fitted"), [(7, 0), (8, 1)])
def test_a_code_wants_eight_returns(returns, fitted):
    assert proof_distances(outcomes([50.0] * returns)).height == fitted


def test_codes_that_come_back_later_want_a_longer_drive():
    early, late = (proof_distances(outcomes([km] * 12))["proof_km"][0] for km in (20.0, 60.0))
    assert 15.0 <= early < late <= 250.0


def test_a_wild_fit_is_kept_within_bounds():
    assert proof_distances(outcomes([0.0] * 20))["proof_km"].to_list() == [15.0]
    assert proof_distances(outcomes([1100.0] * 20, absent=1000.0))["proof_km"].to_list() == [250.0]
