"""Clear rates, erase-only baseline and families, worked by hand on a few literal jobs."""

import math

import polars as pl
import pytest
from scipy.stats import beta, binomtest

from analysis.evidence import EvidenceFrames, weigh
from analysis.evidence.clear_rates import family_results
from analysis.evidence.clusters import family_outcomes, single_part_jobs
from tests.support.diagnosis_dealer import Dealer

A, B, C = "ABS:C0031", "ECM:P0500", "ECM:P0128"


def sensor_dealer() -> Dealer:
    dealer = Dealer(families=[("F1", [A, B], A)])
    for key in (A, B, C):
        dealer.code(key)
    for _ in range(9):
        dealer.job({A: "cleared", B: "cleared"}, parts=(("sensor", "front left", "Norr"),))
    dealer.job({A: "cleared", B: "returned"}, parts=(("sensor", "front left", "Sund"),))
    for outcome in ["cleared"] * 3 + ["returned"] * 7:
        dealer.job({A: outcome})
    return dealer


def weighed(dealer: Dealer):
    return weigh(dealer.past(), dealer.findings().members)


def test_part_rate_erase_rate_and_gain():
    # 9 of 10 against 3 of 10, limits of 90 of 100: Newcombe's (1998, method 10) from Wilson's limits of each share, by
    # hand; the exact limits of 9/10 are the quantiles .05 and .95 of Beta(9, 2) and Beta(10, 1), recomputed.
    (low, high), (alone_low, alone_high) = (tuple(binomtest(k, 10).proportion_ci(0.9, method="wilson")) for k in (9, 3))
    least = 0.6 - math.hypot(0.9 - low, alone_high - 0.3)
    most = 0.6 + math.hypot(high - 0.9, 0.3 - alone_low)
    row = weighed(sensor_dealer()).part_results.row(0, named=True)
    assert (row["part"], row["family"], row["jobs"], row["cleared"], row["returned"]) == ("sensor", "F1", 10, 9, 1)
    assert (row["erase_jobs"], row["erase_cleared"], row["erase_rate"]) == (10, 3, 0.3)
    assert (row["gain"], row["gain_low"], row["gain_high"]) == pytest.approx((0.6, least, most))
    assert (row["rate_low"], row["rate_high"]) == pytest.approx(tuple(beta.ppf([0.05, 0.95], 9.5, 1.5)))
    assert row["median_days_to_return"] == 2.0
    assert row["suppliers"] == "Norr 9/9;Sund 0/1"


def test_columns_are_those_of_the_outgoing_table():
    outgoing = pytest.importorskip("pipelines.report.outgoing", reason="the shell's table declarations")
    evidence = weighed(sensor_dealer())
    assert outgoing.prepare("part_results", evidence.part_results).height == 1
    assert outgoing.prepare("families", family_results(sensor_dealer().findings().families, evidence)).height == 1


def test_family_row_takes_the_part_with_the_best_lower_limit():
    dealer = sensor_dealer()
    dealer.job({A: "cleared"}, parts=("lucky part",))
    row = family_results(dealer.findings().families, weighed(dealer)).row(0, named=True)
    assert (row["best_part"], row["best_part_rate"], row["jobs"]) == ("sensor", 0.9, 10)
    assert (row["codes"], row["knock_on"], row["size"], row["erase_rate"]) == (f"{A};{B}", B, 2, 0.3)


def test_without_jobs_everything_is_empty():
    dealer = Dealer(families=[("F1", [A, B], A)])
    evidence = weighed(dealer)
    assert evidence.part_results.is_empty()
    assert evidence.erase_rates.is_empty()
    assert evidence.return_curve.is_empty()
    row = family_results(dealer.findings().families, evidence).row(0, named=True)
    assert (row["best_part"], row["jobs"], row["erase_rate"]) == (None, 0, None)


def test_several_parts_or_unnamed_work_make_no_single_part_job():
    dealer = Dealer()
    alone = dealer.job({A: "cleared"}, parts=("sensor",))
    dealer.job({A: "cleared"}, parts=("sensor", "ring"))
    dealer.job({A: "cleared"}, parts=(("sensor", "front left", None), ("sensor", "front right", None)))
    twice = dealer.job({A: "cleared"}, parts=(("sensor", "front left", "Norr"), ("sensor", "front left", "Norr")))
    parts = dealer.past().job_parts
    software = pl.DataFrame([(5, None, "", "software", None, None, 20.0), (5, "sensor", "", "replace", None, 1, 1.0)],
                            schema=parts.schema, orient="row")  # fmt: skip
    assert single_part_jobs(pl.concat([parts, software]))["job_id"].to_list() == [alone, twice]


@pytest.mark.parametrize(
    ("ends", "expected"),
    [
        ({A: "cleared", B: "cleared"}, "cleared"),
        ({A: "cleared", B: "returned"}, "returned"),
        ({A: "unread", B: "returned"}, "returned"),
        ({A: "cleared", B: "unproven"}, None),
        ({A: "cleared", B: "unread"}, None),
        ({A: "cleared"}, "cleared"),
        ({A: "cleared", B: "recurred"}, "cleared"),
        ({A: "recurred", B: "returned"}, "returned"),
    ],
)
def test_how_a_job_ended_for_a_family(ends, expected):
    dealer = Dealer(families=[("F1", [A, B], A)])
    dealer.job(ends | {C: "returned"}, parts=("sensor",))
    assert family_outcomes(dealer.past().outcomes, dealer.findings().members)["outcome"].to_list() == [expected]


def test_background_codes_are_no_evidence():
    dealer = Dealer(families=[("F1", [A, B], A)])
    dealer.job({A: "returned"}, parts=("sensor",), background="declared")
    assert weighed(dealer).part_results.is_empty()


def test_order_of_rows_changes_nothing():
    past, members = sensor_dealer().past(), sensor_dealer().findings().members
    shuffled = EvidenceFrames(
        **{name: frame.sample(fraction=1.0, shuffle=True, seed=3) for name, frame in vars(past).items()}
    )
    one, other = weigh(past, members), weigh(shuffled, members)
    assert one.part_results.equals(other.part_results)
    assert one.erase_rates.equals(other.erase_rates)
    assert one.return_curve.equals(other.return_curve)


def test_a_job_is_about_a_family_with_its_root_or_two_of_its_codes():
    dealer = Dealer(families=[("F1", [A, B, C], A), ("F2", [B, C], None)])
    for key in (A, B, C):
        dealer.code(key)
    dealer.job({A: "cleared"}, parts=("sensor",))  # the root of F1
    dealer.job({B: "cleared", C: "cleared"}, parts=("thermostat",))  # two of F1, both of F2
    dealer.job({B: "cleared"}, parts=("fuel cap",))  # one knock-on: about neither
    dealer.job({C: "cleared"})
    results = weighed(dealer)
    assert results.part_results.select("part", "family", "jobs").rows() == [
        ("sensor", "F1", 1), ("thermostat", "F1", 1), ("thermostat", "F2", 1),
    ]  # fmt: skip
    assert results.erase_rates.is_empty()


def test_a_part_that_never_cleared_the_family_is_no_best_part():
    dealer = Dealer(families=[("F1", [A, B], A)])
    dealer.code(A)
    dealer.code(B)
    for _ in range(4):
        dealer.job({A: "returned", B: "returned"}, parts=("fuel cap",))
    evidence = weighed(dealer)
    assert evidence.part_results.select("part", "jobs", "cleared").rows() == [("fuel cap", 4, 0)]
    row = family_results(dealer.findings().families, evidence).row(0, named=True)
    assert (row["best_part"], row["best_part_rate"], row["jobs"]) == (None, None, 0)
