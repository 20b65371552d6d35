import csv
import subprocess
import sys
from pathlib import Path

import pytest

from fixtures.score_demo import TRUTH, score

SCRIPT = Path(__file__).resolve().parents[2] / "fixtures" / "score_demo.py"

STOCK_FAULTS = """\
vehicle,fault,part,position,codes
V1,battery,battery,,ECM:P0562
V2,coil cylinder 1,coil,cylinder 1,ECM:P0301
V2,battery,battery,,ECM:P0562
V3,coil cylinder 2,coil,cylinder 2,ECM:P0302
V4,fuel cap,fuel cap,,ECM:P0457
V5,hose,hose,,ECM:P0299
"""

# In order: first after a recheck; a second fault's part first; the right part in the wrong position, then or_else;
# a specialist before the part; no row at all.
SHORTLIST = """\
vehicle,rank,part,position,action,or_else
V1,2,Battery,,replace,
V1,1,,,recheck,
V2,1,battery,,replace,
V3,1,coil,cylinder 1,replace,
V3,2,plug,,replace,coil cylinder 2;hose
V4,1,,,specialist,
V4,2,fuel cap,,replace,
"""

PLANTED = """\
fault,part,position,action,code,own,chance,carriers,vehicles
battery,battery,,replace,ECM:P0562,true,.9,9,8
battery,battery,,replace,ABS:C0564,false,.6,9,5
battery,battery,,replace,EPS:U3003,false,.6,9,2
coil,coil,,replace,ECM:P0351,true,.6,9,5
coil,coil,,replace,ECM:P0301,false,.9,9,5
hose,hose,,replace,ECM:P0299,true,.9,9,5
hose,hose,,replace,TCM:U0401,false,.9,9,5
loom,loom,,repair,DDM:B1341@corvane,true,.9,9,5
loom,loom,,repair,DDM:B1352@corvane,false,.9,9,5
loom,loom,,repair,DDM:2A87@tesmar,true,.9,9,5
loom,loom,,repair,DDM:2A9C@tesmar,false,.9,9,5
blower,blower,,replace,HVAC:B1242@corvane,true,.9,9,5
blower,blower,,replace,HVAC:1E05@tesmar,true,.9,9,5
cap,cap,,replace,ECM:P0457,true,.9,9,5
switch,switch,,replace,ECM:P0504,true,.9,9,5
switch,switch,,replace,ABS:C0040,false,.9,9,5
"""

# Jaccard by hand: battery 2/2; coil 2/4; hose 2/2; loom, one make, 2/2; switch 1/3, too little.
FAMILIES = """\
family,codes,root
1,ECM:P0562;ABS:C0564,ECM:P0562
2,ECM:P0351;ECM:P0301;ECM:P0300;ECM:P0420,ECM:P0301
3,ECM:P0299;TCM:U0401,
4,DDM:2A87@tesmar;DDM:2A9C@tesmar,DDM:2A87@tesmar
5,ECM:P0504;EPB:U0415,ECM:P0504
"""


@pytest.fixture
def judged(tmp_path):
    truth, workspace = tmp_path / "truth", tmp_path / "workspace"
    report = workspace / "reports" / "2026-W48"
    for folder in (truth, report, workspace / "reports" / "2026-W47"):
        folder.mkdir(parents=True)
    (truth / "stock_faults.csv").write_text(STOCK_FAULTS)
    (truth / "families.csv").write_text(PLANTED)
    (report / "shortlist.csv").write_text(SHORTLIST)
    (report / "families.csv").write_text(FAMILIES)
    (workspace / "reports" / "2026-W47" / "shortlist.csv").write_text(SHORTLIST.splitlines()[0] + "\n")
    return workspace, truth


def test_cars_are_counted_as_worked_by_hand(judged):
    found = score(*judged)
    assert (found.cars, found.first, found.in_three) == (5, 2, 4)
    assert found.handed_over == ("V4",)
    assert found.missed == ("V3", "V5")


def test_families_and_roots_are_counted_as_worked_by_hand(judged):
    # 'blower' has one code a make and 'cap' one in all: neither is a family.
    found = score(*judged)
    assert (found.families, found.found) == (5, 4)
    assert (found.roots_right, found.roots_wrong, found.roots_open) == (2, 1, 1)
    assert found.lost == ("switch",)


def test_more_vehicles_asked_for_leaves_fewer_families(judged):
    workspace, truth = judged
    assert score(workspace, truth, min_vehicles=6).families == 0
    assert score(workspace, truth, min_vehicles=2).families == 5


def test_no_position_in_or_else_means_any_position(judged):
    workspace, truth = judged
    shortlist = workspace / "reports" / "2026-W48" / "shortlist.csv"
    shortlist.write_text(SHORTLIST.replace("plug,,replace,coil cylinder 2;hose", "plug,,replace,hose; Coil"))
    assert score(workspace, truth).in_three == 4
    shortlist.write_text(SHORTLIST.replace("plug,,replace,coil cylinder 2;hose", "plug,,replace,coil cylinder 3"))
    assert score(workspace, truth).in_three == 3


def test_the_figures_are_told_in_words(judged):
    workspace, truth = judged
    told = subprocess.run(
        [sys.executable, str(SCRIPT), str(workspace), "--truth", str(truth)], check=True, capture_output=True, text=True
    )
    assert told.stdout.splitlines() == [
        "a planted root first for 2 of 5 stock cars, among the first three for 4",
        "4 of 5 planted families found: root right 2, wrong 1, undetermined 1",
        "handed to a specialist first: V4",
        "not first: V3, V5",
        "not found: switch",
    ]


def test_a_workspace_without_a_report_is_named(tmp_path):
    with pytest.raises(FileNotFoundError, match=r"has no reports/\*/shortlist\.csv; run 'knockon weekly .*' first"):
        score(tmp_path)
    told = subprocess.run([sys.executable, str(SCRIPT), str(tmp_path)], check=False, capture_output=True, text=True)
    assert told.returncode == 2
    assert "Traceback" not in told.stderr
    assert f"{tmp_path} has no reports" in told.stderr


def test_a_perfect_report_scores_all_of_the_committed_truth(tmp_path):
    report = tmp_path / "reports" / "2026-W48"
    report.mkdir(parents=True)
    faults = list(csv.DictReader((TRUTH / "stock_faults.csv").open()))
    lines = [f"{row['vehicle']},1,{row['part']},{row['position']},replace," for row in faults]
    (report / "shortlist.csv").write_text("\n".join(["vehicle,rank,part,position,action,or_else", *lines]))
    codes, roots = {}, {}
    for row in csv.DictReader((TRUTH / "families.csv").open()):
        if int(row["vehicles"]) >= 3:
            codes.setdefault(row["fault"], []).append(row["code"])
            if row["own"] == "true":
                roots[row["fault"]] = row["code"]
    lines = [f"{name},{';'.join(found)},{roots[name]}" for name, found in codes.items() if name in roots]
    (report / "families.csv").write_text("\n".join(["family,codes,root", *lines]))
    found = score(tmp_path)
    assert found.first == found.cars == 25
    assert found.families == found.roots_right == found.found
    assert found.families >= 20
