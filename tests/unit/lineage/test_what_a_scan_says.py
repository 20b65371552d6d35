"""What the trace says of a code that a scan does not list: absent only where a whole list could have named it."""

import pytest

from pipelines.batch.weekly import run_week
from pipelines.lineage.trace import trace
from pipelines.workspace import Workspace
from tests.support.small_dealer import AS_OF, workspace

SCAN = {"vehicle": "A1", "scanned_at": "2026-03-01T09:00", "module": "ECM", "code": "P0301"}
LATE = SCAN | {"scanned_at": "2026-03-09T09:00"}


CASES = [
    ({"status": "active"}, [{"code": ""}], "absent"),
    ({"status": "pending"}, [{"code": "", "asked": "pending;stored"}], "absent"),
    (
        {"status": "pending"},
        [{"code": "", "asked": "stored"}],
        "unknown: the module was asked for stored codes only",
    ),
    (
        {"status": "permanent"},
        [{"code": "", "asked": "active;stored"}],
        "unknown: the module was asked for active and stored codes only",
    ),
    (
        {"status": "active"},
        [{"code": "P0420"}, {"status": "zz"}],
        "unknown: a row of the module could not be read",
    ),
]


@pytest.fixture(scope="module")
def week(tmp_path_factory) -> Workspace:
    """A week in which each car, A0, A1 ..., had the code, a job and another scan."""
    stock, scans, repairs = [], [], []
    for n, (before, after, _) in enumerate(CASES):
        car = {"vehicle": f"A{n}"}
        stock.append({**car, "make": "Corvane", "model": "Alder"})
        scans += [SCAN | car | before, *(LATE | car | row for row in after)]
        work = {**car, "job": f"J{n}", "done_at": "2026-03-02T10:00"}
        repairs += [{**work, "action": "replace", "part": "coil"}, {**work, "action": "erase"}]
    place = workspace(tmp_path_factory.mktemp("scans"), stock=stock, scans=scans, repairs=repairs)
    run_week(place, AS_OF)
    return place


@pytest.mark.parametrize("n", range(len(CASES)), ids=lambda n: CASES[n][2])
def test_a_code_is_absent_only_where_a_whole_list_could_have_named_it(week, n):
    found = trace(week, f"A{n}", "ECM:P0301")
    assert [scan["code_is"] for scan in found["scans"]] == ["present", CASES[n][2]]
    [job] = found["jobs"]
    assert (job["outcome"], job["cleared_chance"]) == ("unproven", 0.5)
