"""What the trace says of a code that a scan does not list: absent only where a whole list could have named it."""

import pytest

from pipelines.batch.weekly import run_week
from pipelines.lineage.trace import trace
from tests.support.small_dealer import AS_OF, workspace

SCAN = {"vehicle": "A1", "scanned_at": "2026-03-01T09:00", "module": "ECM", "code": "P0301"}
LATE = SCAN | {"scanned_at": "2026-03-09T09:00"}


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
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
    ],
)
def test_a_code_is_absent_only_where_a_whole_list_could_have_named_it(tmp_path, before, after, said):
    stock = [{"vehicle": "A1", "make": "Corvane", "model": "Alder"}]
    work = {"vehicle": "A1", "job": "J1", "done_at": "2026-03-02T10:00"}
    repairs = [{**work, "action": "replace", "part": "coil"}, {**work, "action": "erase"}]
    place = workspace(tmp_path, stock=stock, scans=[SCAN | before, *(LATE | row for row in after)], repairs=repairs)
    run_week(place, AS_OF)
    found = trace(place, "A1", "ECM:P0301")
    assert [scan["code_is"] for scan in found["scans"]] == ["present", said]
    [job] = found["jobs"]
    assert (job["outcome"], job["cleared_chance"]) == ("unproven", 0.5)
