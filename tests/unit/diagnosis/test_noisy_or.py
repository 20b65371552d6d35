"""The noisy-OR against published tables and against enumeration of every hidden cause."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from analysis.diagnosis.model.noisy_or import Cases, expected_counts, fault_sets, weigh_sets


def random_cases(seed: int, parts: int = 3, codes: int = 4, jobs: int = 1) -> Cases:
    rng = np.random.default_rng(seed)
    shape = 1, jobs, codes
    back = rng.uniform(0.0, 1.0, shape)
    return Cases(
        fault=rng.uniform(0.05, 0.5, (1, parts)),
        log_lik_absent=np.log(rng.uniform(0.2, 1.0, (1, parts))),
        link=rng.uniform(0.05, 0.95, (1, parts, codes)),
        leak=rng.uniform(0.02, 0.3, (1, codes)),
        shown=np.ones((1, codes), dtype=bool),
        fitted=rng.random((1, jobs, parts)) < 0.5,
        lik_cleared=np.where(rng.random(shape) < 0.3, 0.0, 1.0),
        lik_recurred=back,
        leak_recurrence=0.3,
        bad=rng.uniform(0.02, 0.5, (1, parts)),
        sizes=np.zeros((1, 4)),
    )


def test_the_evidence_is_the_likelihood_of_all_that_was_seen() -> None:
    # One part and one code that nobody looked for again, by hand: the leak alone set it, or part and leak.
    cases = replace(random_cases(3, parts=1, codes=1), fitted=np.zeros((1, 1, 1), dtype=bool))
    cases = replace(cases, lik_cleared=np.ones((1, 1, 1)), lik_recurred=np.ones((1, 1, 1)))
    fault, link, leak = cases.fault[0, 0], cases.link[0, 0, 0], cases.leak[0, 0]
    odds = fault / (1 - fault) * np.exp(cases.log_lik_absent[0, 0])
    seen = leak + odds * (1 - (1 - link) * (1 - leak))
    assert weigh_sets(cases).evidence == pytest.approx(np.log([seen]))


def in_the_car(cases: Cases, faults: tuple[int, ...], way: tuple[bool, ...]) -> list[set[int]]:
    """The faulty parts in the car before the first job and after each."""
    left = [{i for i, faulty in enumerate(faults) if faulty}]
    for job, cures in enumerate(way):
        renewed = {i for i in left[-1] if cases.fitted[0, job, i]}
        left.append(left[-1] - renewed if cures else left[-1])
    return left


def seen_of_code(
    cases: Cases, faults: tuple[int, ...], left: list[set[int]], d: int
) -> tuple[float, np.ndarray, float, float]:
    """The likelihood of what was seen of a code, and its part in which each part fired, a leak did, a leak lasts."""
    like, by, leak_sum, last_sum = 0.0, np.zeros(len(faults)), 0.0, 0.0
    lam, leak_recurrence, q = cases.leak[0, d], cases.leak_recurrence, cases.link[0, :, d]
    leaks = {(0, 0): 1 - lam, (1, 0): lam * (1 - leak_recurrence), (1, 1): lam * leak_recurrence}
    for fire, (leak, last) in product(product((0, 1), repeat=len(faults)), leaks):
        if not (any(fire) or leak):
            continue
        on = [qi * f if fire_i else 1 - qi * f for qi, f, fire_i in zip(q, faults, fire, strict=True)]
        seen = np.prod(on) * leaks[leak, last]
        causes = {i for i, fired in enumerate(fire) if fired}
        for job, there in enumerate(left[1:]):
            seen *= (cases.lik_recurred if causes & there or last else cases.lik_cleared)[0, job, d]
        like += seen
        by += seen * np.array(fire)
        leak_sum += seen * leak
        last_sum += seen * last
    return like, by, leak_sum, last_sum


def enumerate_causes(cases: Cases) -> dict[str, np.ndarray]:
    """Every fault set, state of the new parts of each job, and per code who fired and whether the leak lasts."""
    (jobs, parts), codes = cases.fitted.shape[1:], cases.link.shape[2]
    total, faulty, set_by = 0.0, np.zeros(parts), np.zeros((parts, codes))
    leaked, stayed, in_vain, renewed = np.zeros(codes), np.zeros(codes), np.zeros(parts), np.zeros(parts)
    for faults, way in product(product((0, 1), repeat=parts), product((True, False), repeat=jobs)):
        left = in_the_car(cases, faults, way)
        attempts = [np.array([i in before and cases.fitted[0, job, i] for i in range(parts)], dtype=float)
                    for job, before in enumerate(left[:-1])]  # fmt: skip
        weight = 1.0
        for cures, tried in zip(way, attempts, strict=True):
            # One new part in vain stands for all of them: that is what the model says of several.
            cure = np.prod(np.where(tried > 0, 1 - cases.bad[0], 1.0))
            weight *= cure if cures else 1 - cure
        for i in range(parts):
            p = cases.fault[0, i]
            weight *= p * np.exp(cases.log_lik_absent[0, i]) if faults[i] else 1 - p
        likes, fired, leaks, lasts = zip(*(seen_of_code(cases, faults, left, d) for d in range(codes)), strict=True)
        whole = weight * np.prod(likes)
        total += whole
        faulty += whole * np.array(faults)
        renewed += whole * sum(attempts)
        in_vain += whole * sum(tried * (not cures) for cures, tried in zip(way, attempts, strict=True))
        for d in range(codes):
            if likes[d] > 0:
                set_by[:, d] += whole * fired[d] / likes[d]
                leaked[d] += whole * leaks[d] / likes[d]
                stayed[d] += whole * lasts[d] / likes[d]
    found = {"faulty": faulty, "set_by": set_by, "leaked": leaked, "stayed": stayed, "in_vain": in_vain,
             "renewed": renewed}  # fmt: skip
    return {name: value / total for name, value in found.items()}


@pytest.mark.parametrize(("seed", "jobs"), [*((seed, 1) for seed in range(6)), (6, 2), (7, 2), (8, 2), (9, 3), (10, 3)])
def test_weights_and_counts_equal_the_enumeration_of_every_hidden_cause(seed, jobs):
    # The same claim as Heckerman's quickscore (1989): the sum over hidden causes, without walking through them.
    cases = random_cases(seed, jobs=jobs)
    weights = weigh_sets(cases)
    expected, truth = expected_counts(cases, weights), enumerate_causes(cases)
    assert weights.faulty()[0] == pytest.approx(truth["faulty"], abs=1e-12)
    assert expected.set_by[0] == pytest.approx(truth["set_by"], abs=1e-11)
    assert expected.leaked[0] == pytest.approx(truth["leaked"], abs=1e-11)
    assert expected.stayed[0] == pytest.approx(truth["stayed"], abs=1e-11)
    assert expected.in_vain[0] == pytest.approx(truth["in_vain"], abs=1e-11)
    assert expected.renewed[0] == pytest.approx(truth["renewed"], abs=1e-11)


def test_a_block_of_cases_is_weighed_as_each_alone():
    alone = [random_cases(seed, jobs=2) for seed in range(20, 24)]
    names = [name for name, value in vars(alone[0]).items() if isinstance(value, np.ndarray)]
    block = replace(alone[0], **{name: np.concatenate([getattr(one, name) for one in alone]) for name in names})
    weights = weigh_sets(block)
    expected = expected_counts(block, weights)
    for row, one in enumerate(alone):
        own = weigh_sets(one)
        assert weights.chance[row] == pytest.approx(own.chance[0], abs=1e-12)
        assert expected.set_by[row] == pytest.approx(expected_counts(one, own).set_by[0], abs=1e-12)


def test_fever_table_of_russell_and_norvig():
    # Russell and Norvig, Artificial Intelligence: A Modern Approach, noisy-OR fever table: inhibitors cold .6,
    # flu .2, malaria .1; published values from memory, recomputed by hand as products of the inhibitors.
    cases = random_cases(0, parts=3, codes=1)
    cases = replace(cases, link=np.array([[[0.4], [0.8], [0.9]]]), leak=np.zeros((1, 1)))
    weights = weigh_sets(cases)
    table = {
        tuple(row): 1 - never
        for row, never in zip(weights.sets.astype(int).tolist(), weights.never[0, :, 0], strict=True)
    }
    published = {
        (0, 0, 0): 0.0, (1, 0, 0): 0.4, (0, 1, 0): 0.8, (0, 0, 1): 0.9,
        (1, 1, 0): 0.88, (1, 0, 1): 0.94, (0, 1, 1): 0.98, (1, 1, 1): 0.988,
    }  # fmt: skip
    assert table == pytest.approx(published)


def test_relative_likelihood_of_peng_and_reggia():
    # Peng and Reggia, Abductive Inference Models for Diagnostic Problem-Solving (1990), formula from memory: without
    # leaks, L(D) = prod over present (1 - prod (1 - c)) * prod over absent prod (1 - c) * prod p / (1 - p).
    link, fault, absent = np.array([[0.7, 0.2], [0.5, 0.9]]), np.array([0.1, 0.2]), np.array([0.3, 0.6])
    cases = Cases(
        fault=fault[None], log_lik_absent=np.log(1 - absent)[None], link=link[None], leak=np.zeros((1, 2)),
        shown=np.ones((1, 2), dtype=bool), fitted=np.zeros((1, 1, 2), dtype=bool), lik_cleared=np.ones((1, 1, 2)),
        lik_recurred=np.ones((1, 1, 2)), leak_recurrence=0.3, bad=np.full((1, 2), 0.1), sizes=np.zeros((1, 4)),
    )  # fmt: skip
    weights = weigh_sets(cases)
    odds = fault / (1 - fault) * (1 - absent)
    both = np.prod(1 - np.prod(1 - link, axis=0))
    formula = np.array([0.0, odds[0] * 0.7 * 0.2, odds[1] * 0.5 * 0.9, odds[0] * odds[1] * both])
    assert weights.chance.sum(axis=1)[0] == pytest.approx(formula / formula.sum(), abs=1e-9)


@pytest.mark.parametrize("jobs", [1, 2])
def test_places_that_only_fill_up_a_block_change_nothing(jobs):
    cases = random_cases(3, jobs=jobs)
    wide = {
        "fault": np.append(cases.fault, [[0.0]], axis=1),
        "log_lik_absent": np.append(cases.log_lik_absent, [[0.0]], axis=1),
        "link": np.pad(cases.link, ((0, 0), (0, 1), (0, 2))),
        "leak": np.pad(cases.leak, ((0, 0), (0, 2))),
        "shown": np.pad(cases.shown, ((0, 0), (0, 2))),
        "fitted": np.pad(cases.fitted, ((0, 0), (0, 0), (0, 1))),
        "bad": np.pad(cases.bad, ((0, 0), (0, 1))),
        "lik_cleared": np.pad(cases.lik_cleared, ((0, 0), (0, 0), (0, 2))),
        "lik_recurred": np.pad(cases.lik_recurred, ((0, 0), (0, 0), (0, 2))),
    }
    filled = Cases(**wide, leak_recurrence=cases.leak_recurrence, sizes=cases.sizes)
    assert weigh_sets(filled).faulty()[0, :3] == pytest.approx(weigh_sets(cases).faulty()[0], abs=1e-9)
    assert weigh_sets(filled).faulty()[0, 3] == pytest.approx(0.0, abs=1e-9)


def test_every_set_of_up_to_three_parts_is_there_once():
    sets = fault_sets(7)
    assert len(sets) == 1 + 7 + 21 + 35
    assert len({tuple(row) for row in sets.tolist()}) == len(sets)
    assert not sets[0].any()


def test_the_weight_of_a_size_multiplies_every_set_of_that_size():
    cases = random_cases(5)
    free = weigh_sets(cases).chance.sum(axis=1)[0]
    factor = np.array([0.5, 2.0, 0.3, 0.1])
    weighted = weigh_sets(replace(cases, sizes=np.log(factor)[None]))
    expected = free * factor[fault_sets(3).sum(axis=1)]
    assert weighted.chance.sum(axis=1)[0] == pytest.approx(expected / expected.sum())
    assert weighted.sizes()[0].sum() == pytest.approx(1.0)
    assert weighted.sizes()[0, 0] == pytest.approx(expected[0] / expected.sum())
