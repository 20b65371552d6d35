"""A car that comes back with its codes is one fault with several attempts, and teaches once what sets which code."""

import numpy as np
import pytest

from analysis.diagnosis.inputs.episodes import MOST_ATTEMPTS
from analysis.diagnosis.inputs.training_data import Visits
from analysis.diagnosis.learning.fit import fit_parameters, single_pass_counts
from tests.support.diagnosis_dealer import Dealer
from tests.support.diagnosis_play import prepared

A, B, C = "ABS:C0031", "ABS:C0034", "ECM:P0500"
RETURNED, UNSEEN = (0.001, 1.0, 0.999), (1.0, 1.0, 0.0)
"""No outcome is surer than one misread scan in a thousand."""


def dealer() -> Dealer:
    """A dealer with two parts and three codes, and no car yet."""
    made = Dealer()
    made.code(A, "wheel speed sensor")
    made.code(B, "wheel speed sensor")
    made.code(C, "vehicle speed")
    made.part("wheel speed sensor")
    made.part("ABS ring")
    return made


def gathered(made: Dealer) -> Visits:
    return prepared(made.frames())[0]


def seen(visits: Visits, visit: int, code: str) -> list[tuple[float, ...]]:
    """What was seen of a code after each job of a visit."""
    column = [A, B, C].index(code)
    entry = visits.first[visit] + visits.code[visits.first[visit] : visits.first[visit + 1]].tolist().index(column)
    ends = zip(visits.lik_cleared[entry], visits.lik_recurred[entry], visits.known[entry], strict=True)
    return [tuple(float(value) for value in end) for end in ends][: len(visits.jobs[visit])]


def test_codes_that_came_back_are_the_same_fault():
    made = dealer()
    made.job({A: "returned", C: "cleared"}, parts=("ABS ring",), vehicle="one", read=("ECM",), km=1e6)
    made.job({A: "cleared"}, parts=("wheel speed sensor",), vehicle="other", km=1e6)
    made.job({A: "cleared"}, parts=("wheel speed sensor",), vehicle="one", km=1e6)
    visits = gathered(made)
    assert visits.jobs == [[[1], [3]], [[2]]]
    assert seen(visits, 0, A) == [RETURNED, (1.0, 0.001, 0.999)]
    assert seen(visits, 0, C)[1] == UNSEEN
    assert visits.fitted[0, :, :].sum(axis=1).tolist() == [1, 1, 0]
    assert visits.reads.tolist() == [2.0, 2.0, 1.0]


def test_a_code_that_was_proven_gone_is_another_fault():
    made = dealer()
    for _ in range(2):
        made.job({A: "cleared"}, parts=("wheel speed sensor",), vehicle="one", km=1e6)
    assert gathered(made).jobs == [[[1]], [[2]]]


@pytest.mark.parametrize(("read", "jobs"), [(("ECM",), [[[1]], [[2]]]), ((), [[[1], [2]]])])
def test_a_new_code_is_the_same_fault_only_where_nobody_had_looked(read, jobs):
    made = dealer()
    made.job({A: "returned"}, parts=("ABS ring",), vehicle="one", read=read)
    made.job({A: "cleared", C: "cleared"}, parts=("wheel speed sensor",), vehicle="one", km=1e6)
    visits = gathered(made)
    assert visits.jobs == jobs
    if not read:
        assert seen(visits, 0, C)[0] == RETURNED


@pytest.mark.parametrize("erased", [True, False])
def test_a_code_that_nobody_looked_for_and_is_there_again_came_back_if_it_was_erased(erased):
    made = dealer()
    made.job({A: "unread"}, parts=("ABS ring",), vehicle="one", erased=erased)
    made.job({A: "cleared"}, parts=("wheel speed sensor",), vehicle="one", km=1e6)
    assert seen(gathered(made), 0, A)[0] == (RETURNED if erased else UNSEEN)


def test_what_the_outcomes_say_is_not_overruled():
    # A permanent code is there until the car's own monitors have run: that is no failed repair.
    made = dealer()
    made.job({A: "unproven"}, parts=("ABS ring",), vehicle="one", km=3.0)
    made.job({A: "cleared"}, parts=("wheel speed sensor",), vehicle="one", km=1e6)
    visits = gathered(made)
    assert visits.jobs == [[[1], [2]]]
    gone, back, _ = seen(visits, 0, A)[0]
    assert (gone, 0.5 < back < 1) == (1.0, True)


def test_jobs_of_one_moment_are_one_attempt():
    made = dealer()
    for part in ("ABS ring", "wheel speed sensor"):
        made.job({A: "cleared"}, parts=(part,), vehicle="one", day=5, km=1e6)
    visits = gathered(made)
    assert visits.jobs == [[[1, 2]]]
    assert visits.fitted[0].sum(axis=1).tolist() == [2, 0, 0]


def test_a_job_before_which_nobody_looked_goes_to_the_attempt_before_it():
    made = dealer()
    made.job({A: "unread"}, parts=("ABS ring",), vehicle="one")
    made.job({}, parts=("wheel speed sensor",), vehicle="one")
    made.job({A: "cleared"}, parts=("ABS ring",), vehicle="one", km=1e6)
    visits = gathered(made)
    assert visits.jobs == [[[1, 2], [3]]]
    assert visits.fitted[0].sum(axis=1).tolist() == [2, 1, 0]
    assert seen(visits, 0, A)[0] == RETURNED


def test_after_a_year_it_is_another_fault():
    made = dealer()
    made.job({A: "returned"}, parts=("ABS ring",), vehicle="one", day=1)
    made.job({A: "cleared"}, parts=("wheel speed sensor",), vehicle="one", day=400, km=1e6)
    assert gathered(made).jobs == [[[1]], [[2]]]


def test_a_module_read_clean_before_a_later_attempt_has_been_looked_at():
    made = dealer()
    made.job({A: "returned"}, parts=("ABS ring",), vehicle="one")
    made.job({A: "returned"}, parts=("ABS ring",), vehicle="one", read=("ECM",))
    made.job({A: "cleared", C: "cleared"}, parts=("wheel speed sensor",), vehicle="one", km=1e6)
    assert gathered(made).jobs == [[[1], [2]], [[3]]]


def test_one_fault_is_credited_once():
    # By hand: half of the codes went with the first attempt, half with the second: one fault, not one and a half; each
    # is gone but for one misread scan in a thousand.
    made = dealer()
    made.job({A: "cleared", B: "returned"}, parts=("wheel speed sensor",), vehicle="one", km=1e6)
    made.job({B: "cleared"}, parts=("wheel speed sensor",), vehicle="one", km=1e6)
    visits, prior, candidates = prepared(made.frames())
    counts = single_pass_counts(visits, prior)
    sensor = [part.part for part in candidates].index("wheel speed sensor")
    assert counts.faults[0, sensor] == pytest.approx(1.0)
    assert counts.set_by[sensor] == pytest.approx([0.5 * 0.999, 0.5 * 0.999, 0.0])
    assert counts.chances[sensor] == pytest.approx([0.999, 0.999, 0.0])


def test_a_fourth_attempt_begins_anew():
    made = dealer()
    for _ in range(MOST_ATTEMPTS + 1):
        made.job({A: "returned"}, parts=("ABS ring",), vehicle="one")
    assert gathered(made).jobs == [[[1], [2], [3]], [[4]]]


def test_several_attempts_teach_once_what_sets_which_code():
    # By hand: one faulty sensor set A and B, and not C, whose module was read; three jobs were needed to find it.
    # One scan in a thousand is misread.
    made = dealer()
    made.job({A: "returned", B: "returned"}, parts=("ABS ring",), vehicle="one", read=("ECM",))
    made.job({A: "returned", B: "returned"}, vehicle="one", read=("ECM",))
    made.job({A: "cleared", B: "cleared"}, parts=("wheel speed sensor",), vehicle="one", read=("ECM",), km=1e6)
    visits, prior, candidates = prepared(made.frames())
    counts = single_pass_counts(visits, prior)
    sensor = [part.part for part in candidates].index("wheel speed sensor")
    assert counts.set_by[sensor] == pytest.approx([0.999, 0.999, 0.0])
    assert counts.chances[sensor] == pytest.approx([0.999, 0.999, 1.0])
    assert counts.visits[0, 0] == pytest.approx(1.0)
    parameters = fit_parameters(visits, prior)
    faults = parameters.learned[:, 0]
    assert faults[sensor] > 0.9
    assert parameters.link_yes.sum() + parameters.link_no.sum() - prior.visits.sum() < 2 * 3 + 1e-9


def test_a_new_part_in_vain_is_told_from_a_wrong_part():
    # The sensor again, and then it holds: the first one was bad, or the fault was another.
    made = dealer()
    for _ in range(20):
        made.job({A: "cleared", B: "cleared"}, parts=("wheel speed sensor",), km=1e6)
    made.job({A: "returned", B: "returned"}, parts=("wheel speed sensor",), vehicle="one")
    made.job({A: "cleared", B: "cleared"}, parts=("wheel speed sensor",), vehicle="one", km=1e6)
    visits, prior, candidates = prepared(made.frames())
    sensor = [part.part for part in candidates].index("wheel speed sensor")
    alone = fit_parameters(gathered(dealer_of_cured(21)), prior)
    assert fit_parameters(visits, prior).bad[sensor] > alone.bad[sensor] + 0.01
    assert np.all(fit_parameters(visits, prior).learned[sensor, :2] > 19)


def dealer_of_cured(jobs: int) -> Dealer:
    made = dealer()
    for _ in range(jobs):
        made.job({A: "cleared", B: "cleared"}, parts=("wheel speed sensor",), km=1e6)
    return made
