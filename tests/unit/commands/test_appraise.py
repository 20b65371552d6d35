"""Before buying: costs against counting every case, and the command from file to words, with nothing loaded."""

import hashlib
import re
from itertools import product

import numpy as np
import polars as pl
import pytest

from analysis.diagnosis.decision.appraisal import (
    chance_above,
    costs_to_clear,
    mean_cost,
    nearest_quantile,
    quantile,
)
from analysis.diagnosis.decision.order_of_work import RECHECK, RepairModel, Step
from pipelines.batch.appraisal import appraisal
from pipelines.commands.cli import main
from pipelines.storage.warehouse import Warehouse
from tests.support.small_dealer import build, load, workspace

LINK, LEAK, PERSIST, BAD = 0.7, 0.2, 0.3, 0.1
HEAD = "vehicle,scanned_at,module,code\n"


def repair(chance=(0.3, 0.7), clears=((True, True),), scope=(True, True), bad=BAD) -> RepairModel:
    """One part and two codes; the sets are: nothing at fault, the part at fault."""
    return RepairModel(
        sets=np.array([[False], [True]]),
        chance=np.array(chance),
        link=np.array([[LINK, LINK]]),
        leak=np.array([LEAK, LEAK]),
        clears=np.array(clears),
        scope=np.array(scope),
        cost=np.array([40.0]),
        specialist=300.0,
        leak_recurrence=PERSIST,
        bad=np.full(1, bad),
    )


def counted(recheck: bool) -> dict[float, float]:
    """Every case of one part and two codes, one by one: what it costs and how likely it is."""
    shares: dict[float, float] = {}
    for faulty, works in product((False, True), repeat=2):
        ways = []
        for by_part, leak, lasts in product((False, True), repeat=3):
            part = LINK if faulty else 0.0
            share = (part if by_part else 1 - part) * (LEAK if leak else 1 - LEAK)
            share *= PERSIST if lasts else 1 - PERSIST
            if by_part or leak:
                ways.append((by_part, leak and lasts, share))
        total = sum(share for *_, share in ways)
        for (part1, leak1, share1), (part2, leak2, share2) in product(ways, repeat=2):
            there = part1 or leak1 or part2 or leak2
            fitted = there or not recheck
            cured = works and fitted
            left = ((part1 or part2) and not cured) or leak1 or leak2
            cost = 40.0 * fitted + 300.0 * left
            chance = (0.7 if faulty else 0.3) * ((1 - BAD) if works else BAD) * share1 * share2 / total**2
            shares[cost] = shares.get(cost, 0.0) + chance
    return {cost: share for cost, share in shares.items() if share > 0}


@pytest.mark.parametrize("recheck", [False, True])
def test_the_draws_match_counting_every_case(recheck: bool) -> None:
    steps = [Step(part=RECHECK, chance=0.5, cost=0.0)] * recheck + [Step(part=0, chance=0.8, cost=40.0)]
    found = dict(costs_to_clear(repair(), steps, draws=200_000).iter_rows())
    wanted = counted(recheck)
    assert sum(wanted.values()) == pytest.approx(1.0)
    assert set(found) == set(wanted)
    for cost, share in wanted.items():
        # Five standard errors of 200,000 draws.
        assert found[cost] == pytest.approx(share, abs=5 * (share * (1 - share) / 200_000) ** 0.5)


def test_what_no_part_should_clear_is_left_for_the_specialist() -> None:
    # The part is at fault for certain and its new one works: only the second code's lasting leak costs more.
    sure = repair(chance=(0.0, 1.0), clears=((True, False),), scope=(True, True), bad=0.0)
    alone = RepairModel(**(vars(sure) | {"link": np.array([[1.0, 0.0]]), "leak": np.array([0.0, LEAK])}))
    found = dict(costs_to_clear(alone, [Step(part=0, chance=1.0, cost=40.0)], draws=100_000).iter_rows())
    assert found == {40.0: pytest.approx(1 - PERSIST, abs=0.01), 340.0: pytest.approx(PERSIST, abs=0.01)}
    # A code that may stay costs nothing, whether it comes back or not.
    left = RepairModel(**(vars(alone) | {"scope": np.array([True, False])}))
    assert costs_to_clear(left, [Step(part=0, chance=1.0, cost=40.0)]).rows() == [(40.0, 1.0)]


def test_without_a_step_the_car_is_handed_over() -> None:
    assert costs_to_clear(repair(), []).rows() == [(300.0, 1.0)]


def test_a_car_on_which_nothing_has_to_go_costs_nothing() -> None:
    # Codes that no fault sets are left alone: nobody is paid for them, the specialist neither.
    assert costs_to_clear(repair(scope=(False, False)), []).rows() == [(0.0, 1.0)]


def test_the_same_car_gets_the_same_answer() -> None:
    steps = [Step(part=0, chance=0.8, cost=40.0)]
    assert costs_to_clear(repair(), steps).equals(costs_to_clear(repair(), steps))


def test_the_middle_the_ninetieth_and_the_limit_are_read_off_the_shares() -> None:
    costs = pl.DataFrame({"cost": [40.0, 80.0, 300.0], "share": [0.5, 0.4, 0.1]})
    assert [quantile(costs, share) for share in (0.5, 0.51, 0.9, 0.91)] == [40.0, 80.0, 80.0, 300.0]
    # What is kept by .9 is as near to .85 as that of 80.0 gets; .5 is nearer to .6 than .9 is.
    assert [nearest_quantile(costs, share) for share in (0.1, 0.6, 0.85, 0.99)] == [
        (40.0, 0.5), (40.0, 0.5), (80.0, pytest.approx(0.9)), (300.0, 1.0)
    ]  # fmt: skip
    assert [chance_above(costs, limit) for limit in (39.0, 40.0, 300.0)] == pytest.approx([1.0, 0.5, 0.0])
    assert mean_cost(costs) == pytest.approx(82.0)


@pytest.fixture(scope="module")
def dealer(tmp_path_factory):
    """A workspace that has seen one car and one repair; an appraisal leaves it as it was."""
    scans = [
        {"vehicle": "A1", "scanned_at": day, "module": "ABS", "code": code, "odometer": km}
        for day, code, km in (("2026-11-01T09:00", "C0031", 1000), ("2026-11-09T09:00", "", 1500))
    ]
    repairs = [
        {"vehicle": "A1", "job": "1", "done_at": "2026-11-02", "action": "replace", "part": "wheel speed sensor"}
    ]
    parts = [{"part": "wheel speed sensor", "part_cost": 40, "labour_minutes": 20}]
    stock = [{"vehicle": "A1", "make": "Corvane", "model": "Alder"}]
    place = workspace(
        tmp_path_factory.mktemp("appraise") / "dealer", scans=scans, repairs=repairs, parts=parts, stock=stock
    )
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        build(warehouse)
    return place


@pytest.fixture
def scan(tmp_path):
    path = tmp_path / "offered.csv"
    path.write_text(HEAD + "X9,2026-11-20T09:00,ABS,C0031\nX9,2026-11-20T09:00,BCM,B1317\nX9,2026-11-20T09:00,ECM,\n")
    return path


def test_a_car_is_appraised_and_nothing_is_loaded(dealer, scan, capsys) -> None:
    before = hashlib.sha256(dealer.database.read_bytes()).hexdigest()
    assert main(["appraise", str(scan), str(dealer.root), "--make", "Corvane", "--limit", "54.99"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("offered.csv: loaded nowhere, only looked at\n  3 modules were read; 2 open codes\n")
    for wanted in ("% of such cars cost at most", "replace wheel", "BCM:B1317@corvane"):
        assert wanted in said
    # 40.00 for the part and 20 minutes at 45.00 an hour are 55.00: whoever follows the list pays that at least.
    assert "55.00" in said
    limit = next(line for line in said.splitlines() if line.startswith("chance of more than 54.99"))
    assert limit.split()[-1] == "100%"
    assert "Explained by no known part" in said
    assert hashlib.sha256(dealer.database.read_bytes()).hexdigest() == before
    assert scan.is_file()
    assert "safe" not in said
    assert "roadworthy" not in said


@pytest.mark.slow
def test_a_code_that_nothing_explains_is_in_the_cost(dealer, scan, tmp_path) -> None:
    def told(*rows: str) -> pl.DataFrame:
        path = tmp_path / "one.csv"
        path.write_text(HEAD + "".join(f"X9,2026-11-20T09:00,{row}\n" for row in rows))
        return appraisal(dealer, path, "Corvane", None, None).costs

    named, other = told("ABS,C0031", "BCM,"), told("ABS,", "BCM,B1317")
    both = told("ABS,C0031", "BCM,B1317")
    # Nothing is known that could clear it: a drive for 15.00, and the 300.00 of the settings wherever it is back after
    # the erase, .3 before anything is known.
    assert other["cost"].to_list() == [1500.0, 31500.0]
    assert other["share"][1] == pytest.approx(0.3, abs=0.05)
    # Beside one with a part the specialist is paid on top of it; the part may have set it too, for all that is known.
    assert chance_above(both, 30000.0) > chance_above(named, 30000.0) + 0.05
    assert mean_cost(both) > mean_cost(named) + 0.05 * 30000.0


@pytest.mark.slow
def test_without_a_make_the_makers_own_codes_are_pointed_out(dealer, scan, capsys) -> None:
    assert main(["appraise", str(scan), str(dealer.root)]) == 0
    assert "some codes are the maker's own: --make lets past repairs" in capsys.readouterr().out


def test_an_empty_workspace_answers_from_code_texts(tmp_path, scan, capsys) -> None:
    assert main(["init", str(tmp_path / "new")]) == 0
    assert main(["appraise", str(scan), str(tmp_path / "new")]) == 0
    assert "from code texts only: no repair is known here yet" in capsys.readouterr().out
    assert not (tmp_path / "new" / "knockon.duckdb").exists()


@pytest.mark.slow
def test_a_car_without_codes_costs_nothing(dealer, tmp_path, capsys) -> None:
    clean = tmp_path / "clean.csv"
    clean.write_text(HEAD + "X9,2026-11-20T09:00,ABS,\n")
    assert main(["appraise", str(clean), str(dealer.root)]) == 0
    said = capsys.readouterr().out
    assert "Cost to clear it: 0.00\n  No open code asks for a repair; what no scan shows is not in this." in said
    # A row that was refused may have named a code: nothing is known of its module, and so of what it costs.
    clean.write_text(HEAD + "X9,2026-11-20T09:00,ABS,\nX9,23/11/26,ABS,C0031\n")
    assert main(["appraise", str(clean), str(dealer.root)]) == 0
    said = capsys.readouterr().out
    assert "Cost to clear it: 0.00" not in said
    assert "not read, so nothing is known of them: ABS" in said
    assert "refused: row 3, scanned_at: '23/11/26'" in said


ERASED = "vehicle,scanned_at,module,code,km_since_erase,monitors_ready\n"


@pytest.mark.slow
def test_a_car_whose_codes_were_just_erased_is_not_told_to_cost_nothing(dealer, tmp_path, capsys) -> None:
    # The only car that ever came in had a fault: 55.00 for part and labour, and its code takes its time to come back.
    clean = tmp_path / "clean.csv"
    clean.write_text(ERASED + "X9,2026-11-20T09:00,ABS,,3,false\nX9,2026-11-20T09:00,ECM,,3,false\n")
    assert main(["appraise", str(clean), str(dealer.root)]) == 0
    said = capsys.readouterr().out
    assert "Cost to clear it: 0.00" not in said
    first = said.index("Not proven yet")
    assert first < said.index("Cost to clear it")
    assert "codes were erased 3 km ago: a code that is missing is not known to be gone" in said.replace("\xa0", " ")
    assert "drive 40 km more and scan again before you buy" in said.replace("\xa0", " ")
    # Long after the erase a missing code is gone.
    clean.write_text(ERASED + "X9,2026-11-20T09:00,ABS,,3000,true\nX9,2026-11-20T09:00,ECM,,3000,true\n")
    assert main(["appraise", str(clean), str(dealer.root)]) == 0
    said = capsys.readouterr().out
    assert "Cost to clear it: 0.00" in said
    assert "Not proven yet" not in said


@pytest.mark.slow
def test_the_highest_bid_leaves_the_margin_in_nine_of_ten_cars(dealer, scan, capsys) -> None:
    ask = ["appraise", str(scan), str(dealer.root), "--make", "Corvane"]
    assert main([*ask, "--asking", "2000", "--margin", "400"]) == 0
    said = capsys.readouterr().out
    share, nine = re.search(r"(\d+)% of such cars cost ([\d.]+) at most to clear", said).groups()
    assert int(share) >= 90
    assert f"Highest bid, in EUR: {2000 - 400 - float(nine):.2f}" in said
    # Who will lose on half of the cars may bid more; with nothing left there is no bid.
    assert main([*ask, "--asking", "2000", "--margin", "400", "--risk", "0.5"]) == 0
    said = capsys.readouterr().out
    share, half = re.search(r"(\d+)% of such cars cost ([\d.]+) at most to clear", said).groups()
    assert int(share) >= 50
    assert float(half) <= float(nine)
    assert f"Highest bid, in EUR: {2000 - 400 - float(half):.2f}" in said
    assert main([*ask, "--asking", "300", "--margin", "400"]) == 0
    assert "Highest bid: none" in capsys.readouterr().out
    assert main([*ask, "--asking", "300", "--risk", "0"]) == 2


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            HEAD + "X1,2026-11-20,ABS,C0031\nX2,2026-11-20,ABS,C0031\n",
            "expected the scans of one car, found 2: X1, X2.",
        ),
        (HEAD + "X1,soon,ABS,C0031\n", "none of its 1 rows could be read. row 2, scanned_at: 'soon'"),
        ("a,b\n1,2\n", "the header lacks"),
    ],
    ids=["two cars", "no row", "no scan"],
)
def test_a_file_that_is_no_scan_of_one_car_is_refused(dealer, tmp_path, capsys, text, message) -> None:
    path = tmp_path / "offered.csv"
    path.write_text(text)
    assert main(["appraise", str(path), str(dealer.root)]) == 1
    said = capsys.readouterr().err
    assert said.startswith(f"knockon: {path}: ")
    assert message in said


def test_a_missing_file_and_a_negative_limit_are_named(dealer, tmp_path, scan, capsys) -> None:
    assert main(["appraise", str(tmp_path / "none.csv"), str(dealer.root)]) == 1
    assert "is not there; expected a file with the scan of one car. Nothing was loaded." in capsys.readouterr().err
    assert main(["appraise", str(scan), str(dealer.root), "--limit", "-1"]) == 2


def test_help_ends_with_an_example(capsys) -> None:
    assert main(["appraise", "--help"]) == 0
    assert capsys.readouterr().out.strip().splitlines()[-1].startswith("  Example: knockon appraise scan.csv my-dealer")
