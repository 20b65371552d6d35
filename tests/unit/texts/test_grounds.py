"""What a chance rests on: that no job cleared the codes stands beside a high chance only with the reason for it."""

import pytest

from analysis.texts.action_text import HIGH, ground, in_vain
from pipelines.report.sections import _own_jobs


@pytest.mark.parametrize("basis", ["repairs", "code", "pattern"])
@pytest.mark.parametrize("jobs", [1, 2, 7])
@pytest.mark.parametrize("chance", [HIGH, 0.8, 1.0])
def test_none_of_so_many_cleared_says_at_once_why_the_chance_is_high(basis: str, jobs: int, chance: float) -> None:
    [said] = [one for one in ground(basis, jobs, 0, chance).split(". ") if "0 of" in one]
    assert "on cars that had another fault" in said
    assert f"{chance:.0%} rest on what the codes of this car name" in said
    row = {"jobs": jobs, "jobs_cleared": 0, "chance": chance}
    assert _own_jobs(row) == f"0 of {jobs} cleared, but this car's codes name it"


def test_where_the_chance_is_low_or_one_cleared_no_reason_is_needed() -> None:
    assert in_vain(5, 0, HIGH - 0.01) == in_vain(5, 1, 0.9) == in_vain(0, 0, 0.9) == in_vain(5, 0, None) == ""
    assert _own_jobs({"jobs": 5, "jobs_cleared": 0, "chance": 0.1}) == "0 of 5 cleared"
    assert _own_jobs({"jobs": 0, "jobs_cleared": 0, "chance": 0.9}) == "none"
