"""Which jobs with one part alone a line of the list rests on, held against going through every job."""

from collections import defaultdict
from itertools import combinations

from analysis.diagnosis.inputs.past_jobs import PastJobs
from tests.support.diagnosis_world import fleet, plant


def test_jobs_with_one_part_are_counted_as_going_through_all_of_them_does():
    frames, _, _ = fleet(plant(3), 4, visits=60, stock=1)
    works, ends = defaultdict(set), defaultdict(dict)
    for job, part, place in frames.job_parts.select("job_id", "part", "position").rows():
        works[job].add((part, place or ""))
    for job, code, outcome, background in frames.outcomes.select("job_id", "code", "outcome", "background").rows():
        if background is None:
            ends[job][code] = outcome

    def gone_through(key, codes):
        told = [{end for code, end in ends[job].items() if code in codes} for job in works if works[job] == {key}]
        known = [one for one in told if one & {"cleared", "recurred", "returned"}]
        return len(known), sum("returned" not in one for one in known)

    past = PastJobs(frames, [])
    seen = sorted({code for told in ends.values() for code in told})[:25]
    asked = [(key, set(pair)) for key in set().union(*works.values()) for pair in combinations(seen, 2)]
    found = [past.single_jobs(key, codes) for key, codes in asked]
    assert found == [gone_through(key, codes) for key, codes in asked]
    assert any(0 < cleared < jobs for jobs, cleared in found)
