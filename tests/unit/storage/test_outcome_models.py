"""What became of each code after a job: every case worked by hand on a few rows.

The rules come from the open standards: ISO 14229-1 status bits 4 and 6 ("not
tested"), 13 CCR 1968.2 (d)(2.5) on permanent codes; the 40 km road test is
common practice, no source.
"""

import pytest

from tests.support.small_dealer import Rows, built

STOCK: Rows = [{"vehicle": "A1", "make": "Corvane", "model": "Alder"}]


def scan(at: str, module: str = "ECM", code: str = "", **more: object) -> dict[str, object]:
    return {"vehicle": "A1", "scanned_at": at, "module": module, "code": code, **more}


def job(name: str, at: str, action: str, part: str = "", **more: object) -> dict[str, object]:
    return {"vehicle": "A1", "job": name, "done_at": at, "action": action, "part": part, **more}


BEFORE = scan("2026-03-01T09:00", code="P0301", odometer=50000)
FIX: Rows = [
    job("J1", "2026-03-02T10:00", "replace", "ignition coil", odometer=50000),
    job("J1", "2026-03-02T10:00", "erase", odometer=50000),
]


def outcome(tmp_path, after: Rows, repairs: Rows = FIX, before: Rows | None = None) -> tuple[str, float | None]:
    scans = [*(before or [BEFORE]), *after]
    frames = built(tmp_path, ("outcomes",), stock=STOCK, scans=scans, repairs=repairs)
    [row] = frames["outcomes"].filter(job="J1").select("outcome", "km_proven").rows()
    return row


CASES = [
    pytest.param([], ("unread", None), id="nobody looked"),
    pytest.param([scan("2026-03-03T09:00", odometer=50060, module="ABS")], ("unread", None), id="module not read"),
    pytest.param(
        [scan("2026-03-03T09:00", odometer=50060, module_state="silent")], ("unread", None), id="module silent"
    ),
    pytest.param([scan("2026-03-03T09:00", odometer=50038)], ("unproven", 38.0), id="two km short"),
    pytest.param([scan("2026-03-03T09:00")], ("unproven", None), id="no odometer"),
    pytest.param(
        [scan("2026-03-03T09:00", odometer=50090, km_since_erase=12)], ("unproven", 12.0), id="erased again later"
    ),
    pytest.param(
        [scan("2026-03-03T09:00", odometer=50005, monitors_ready="true")], ("cleared", 5.0), id="monitors have run"
    ),
    pytest.param(
        [scan("2026-03-03T09:00", odometer=50060), scan("2026-03-09T09:00", code="P0301", odometer=50300)],
        ("returned", 60.0),
        id="gone first, back later",
    ),
    pytest.param(
        [scan("2026-03-03T09:00", code="P0301-00", odometer=50010)], ("returned", None), id="back with failure type"
    ),
    pytest.param(
        [scan("2026-03-03T09:00", code="P0301", status="50", odometer=50090)],
        ("unproven", None),
        id="listed but not tested since the erase",
    ),
    pytest.param(
        [scan("2026-03-03T09:00", code="P0301", status="00", odometer=50003)],
        ("cleared", 3.0),
        id="listed as tested and not failing",
    ),
    pytest.param(
        [scan("2026-03-03T09:00", code="P0301", status="2F", odometer=50003)], ("returned", None), id="failing"
    ),
    pytest.param(
        [scan("2026-03-03T09:00", code="P0301", status="permanent", odometer=50090)],
        ("unproven", None),
        id="permanent before its monitor has run",
    ),
    pytest.param(
        [scan("2026-03-03T09:00", code="P0301", status="permanent", odometer=50090, monitors_ready="true")],
        ("returned", None),
        id="permanent after the monitors have run",
    ),
    pytest.param(
        [scan("2026-03-03T09:00", code="PO302", odometer=50090), scan("2026-03-03T09:00", odometer=50090)],
        ("unproven", None),
        id="the module's list could not be read whole",
    ),
]


@pytest.fixture(scope="module")
def ends(tmp_path_factory) -> dict[str, tuple[str, float | None]]:
    """What became of the code on cars A0, A1 ..., one a case, all of one dealer."""
    cars = [{"vehicle": f"A{n}"} for n in range(len(CASES))]
    scans = [row | car for car, case in zip(cars, CASES, strict=True) for row in (BEFORE, *case.values[0])]
    stock, repairs = [STOCK[0] | car for car in cars], [row | car for car in cars for row in FIX]
    found = built(tmp_path_factory.mktemp("ends"), ("outcomes",), stock=stock, scans=scans, repairs=repairs)
    return {vehicle: end for vehicle, *end in found["outcomes"].select("vehicle", "outcome", "km_proven").rows()}


@pytest.mark.parametrize("n", range(len(CASES)), ids=lambda n: CASES[n].id)
def test_what_became_of_a_code(ends, n):
    assert tuple(ends[f"A{n}"]) == CASES[n].values[1]


def test_before_any_return_was_seen_the_dealers_road_test_proves_it(tmp_path):
    assert outcome(tmp_path, [scan("2026-03-03T09:00", odometer=50040)]) == ("cleared", 40.0)


def test_without_an_erase_a_missing_code_proves_nothing(tmp_path):
    assert outcome(tmp_path, [scan("2026-03-03T09:00", odometer=50090)], FIX[:1]) == ("unproven", None)


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        # ISO 14229-1, annex D: testFailed keeps the result of the latest test, until the next one has run.
        pytest.param("active", [("active", 5)], ("unproven", None), id="awake as it was, hardly driven"),
        pytest.param("active", [("active", 5), ("active", 900)], ("returned", 900.0), id="awake as it was, driven far"),
        pytest.param(
            "active", [("active", 5), ("confirmed", 60)], ("cleared", None), id="awake as it was, then stored"
        ),
        pytest.param(
            "active", [("confirmed", 30), ("active", 31)], ("returned", 31.0), id="stored in between, awake again"
        ),
        pytest.param("confirmed", [("active", 5)], ("returned", 5.0), id="stored only, then awake"),
        pytest.param("", [("active", 5)], ("unproven", None), id="nobody knows how it was"),
        pytest.param("active", [("confirmed", 5)], ("unproven", None), id="stored, hardly driven"),
    ],
)
def test_without_an_erase_a_code_that_is_awake_may_not_have_been_tested_since(tmp_path, before, after, expected):
    scans = [BEFORE | {"status": before}]
    for day, (status, km) in enumerate(after, 3):
        scans.append(scan(f"2026-03-0{day}T09:00", code="P0301", status=status, odometer=50000 + km))
    frames = built(tmp_path, ("outcomes",), stock=STOCK, scans=scans, repairs=FIX[:1])
    assert frames["outcomes"].filter(job="J1").select("outcome", "km_to_return").rows() == [expected]


def test_the_cars_own_counter_tells_of_an_erase_that_was_not_written_down(tmp_path):
    after = [scan("2026-03-03T09:00", odometer=50090, km_since_erase=88)]
    assert outcome(tmp_path, after, FIX[:1]) == ("cleared", 88.0)


def test_monitors_speak_for_engine_codes_only(tmp_path):
    before = [scan("2026-03-01T09:00", module="ABS", code="C0031", odometer=50000)]
    after = [scan("2026-03-03T09:00", module="ABS", odometer=50005, monitors_ready="true")]
    assert outcome(tmp_path, after, before=before) == ("unproven", 5.0)


BRAKES = job("J2", "2026-03-04T10:00", "replace", "brake pad", odometer=50100)
ERASED = job("J2", "2026-03-04T10:00", "erase", odometer=50100)


@pytest.mark.parametrize(
    ("repairs", "after", "expected"),
    [
        # An exponential distance is proven by the road test of 40 km: 100 km from the first job, 20 from the second.
        pytest.param([*FIX, BRAKES], {"odometer": 50120}, ("cleared", 120.0, None), id="gone since the first erase"),
        pytest.param([*FIX, BRAKES, ERASED], {"odometer": 50120}, ("unproven", 20.0, None), id="gone since the last"),
        pytest.param([*FIX, ERASED], {"odometer": 50200}, ("cleared", 100.0, None), id="a pure erase after it"),
        pytest.param([FIX[0], ERASED], {"odometer": 50200}, ("cleared", 100.0, None), id="only the second erased"),
        pytest.param(
            [*FIX, BRAKES, ERASED], {"odometer": 50120, "code": "P0301"}, ("returned", None, 20.0), id="set since"
        ),
        pytest.param(
            [*FIX, BRAKES | {"odometer": 50001}],
            {"odometer": 50060, "code": "P0301"},
            ("returned", None, 60.0),
            id="hardly driven between, so set since both",
        ),
        pytest.param(
            [*FIX, BRAKES | {"done_at": "2026-03-02T16:00", "odometer": ""}],
            {"odometer": 50060, "code": "P0301"},
            ("returned", None, 60.0),
            id="both on one day, so set since both",
        ),
        # Back by the second job perhaps, and ended by it: that it is listed tells of no return.
        pytest.param(
            [*FIX, BRAKES], {"odometer": 50400, "code": "P0301"}, ("unproven", None, None), id="listed, of unknown age"
        ),
        pytest.param(
            [*FIX, BRAKES],
            {"odometer": 50400, "code": "P0301", "status": "confirmed"},
            ("unproven", None, None),
            id="stored, of unknown age",
        ),
        pytest.param(
            [*FIX, BRAKES],
            {"odometer": 50110, "code": "P0301", "status": "active"},
            ("unproven", None, None),
            id="active, hardly driven since the second",
        ),
        pytest.param(
            [*FIX, BRAKES],
            {"odometer": 51000, "code": "P0301", "status": "active"},
            ("returned", None, 900.0),
            id="active, driven far since the second",
        ),
        pytest.param(
            [*FIX, BRAKES],
            {"odometer": 50160, "code": "P0301", "km_since_erase": 59},
            ("returned", None, 59.0),
            id="the car tells of an erase after both",
        ),
    ],
)
def test_jobs_with_no_scan_between_them_are_told_of_by_what_came_before_and_after_both(
    tmp_path, repairs, after, expected
):
    frames = built(
        tmp_path,
        ("outcomes", "jobs"),
        stock=STOCK,
        scans=[BEFORE | {"status": "active"}, scan("2026-03-05T09:00", **after)],
        repairs=repairs,
    )
    assert frames["jobs"].select("job", "erased").rows() == [("J1", True)]
    assert frames["outcomes"].select("job", "outcome", "km_proven", "km_to_return").rows() == [("J1", *expected)]


def test_a_job_with_a_scan_between_stays_apart(tmp_path):
    between = scan("2026-03-03T09:00", module="ABS", odometer=50050)
    scans = [BEFORE, between, scan("2026-03-05T09:00", odometer=50200)]
    frames = built(tmp_path, ("outcomes", "jobs", "job_modules"), stock=STOCK, scans=scans, repairs=[*FIX, BRAKES])
    assert frames["jobs"]["job"].to_list() == ["J1", "J2"]
    assert frames["outcomes"].select("job", "outcome").rows() == [("J1", "unread")]
    assert frames["job_modules"].rows() == [(1, "ECM"), (2, "ABS")]


def test_parts_of_jobs_with_no_scan_between_them_are_one_jobs_and_each_counts_once(tmp_path):
    repairs = [
        job("J0", "2026-03-02T08:00", "erase", odometer=50000),
        *FIX,
        job("J2", "2026-03-04T10:00", "replace", "ignition coil", odometer=50100, supplier="Alm", part_cost=30),
        job("J2", "2026-03-04T10:00", "inspect", "spark plug", odometer=50100),
        job("J3", "2026-03-04T18:00", "replace", "brake pad", odometer=50100),
    ]
    names = ("jobs", "job_parts", "job_checks", "outcomes", "stock_work")
    scans = [BEFORE, scan("2026-03-05T09:00", odometer=50200)]
    frames = built(tmp_path, names, stock=STOCK, scans=scans, repairs=repairs)
    assert frames["jobs"].select("job", "erased", "erase_only", "odometer").rows() == [("J1", True, False, 50100.0)]
    [number] = frames["jobs"]["job_id"]
    assert frames["job_parts"].select("job_id", "part", "supplier").sort("part").rows() == [
        (number, "brake pad", None),
        (number, "ignition coil", "Alm"),
    ]
    assert frames["job_checks"].select("job", "part").rows() == [("J1", "spark plug")]
    assert frames["outcomes"].height == 1
    assert frames["stock_work"].select("job", "erased", "part").rows() == [
        ("J0", True, None),
        ("J1", True, "ignition coil"),
        ("J2", False, "ignition coil"),
        ("J3", False, "brake pad"),
    ]


def test_erases_with_no_scan_between_them_are_one_erase(tmp_path):
    repairs = [FIX[1], FIX[1] | {"job": "J2", "done_at": "2026-03-03T10:00", "odometer": 50050}]
    scans = [BEFORE, scan("2026-03-05T09:00", odometer=50200)]
    frames = built(tmp_path, ("jobs", "outcomes"), stock=STOCK, scans=scans, repairs=repairs)
    assert frames["jobs"].select("job", "erase_only").rows() == [("J1", True)]
    assert frames["outcomes"].select("job", "km_proven").rows() == [("J1", 150.0)]


def test_a_job_that_only_inspects_ends_nothing(tmp_path):
    look: Rows = [job("J2", "2026-03-04T10:00", "inspect", odometer=50010)]
    assert outcome(tmp_path, [scan("2026-03-05T09:00", odometer=50200)], [*FIX, *look]) == ("cleared", 200.0)


def test_a_car_scanned_five_times_is_one_basket(tmp_path):
    scans = [scan(f"2026-02-0{day}T09:00", code="P0301", odometer=50000) for day in range(1, 6)]
    frames = built(tmp_path, ("baskets", "basket_codes"), stock=STOCK, scans=scans, repairs=FIX)
    assert frames["baskets"].height == 1
    assert frames["basket_codes"]["code"].to_list() == ["ECM:P0301"]


@pytest.mark.parametrize(
    ("odometers", "expected"),
    [
        pytest.param((50000, 50060), "cleared", id="odometers part the day"),
        pytest.param((None, None), "unproven", id="without odometers the first scan came before"),
    ],
)
def test_a_job_known_by_its_day_only_lies_between_that_days_scans(tmp_path, odometers, expected):
    first, second = (odometer if odometer else "" for odometer in odometers)
    scans = [
        scan("2026-03-02T09:00", code="P0301", odometer=first),
        scan("2026-03-02T17:00", odometer=second),
    ]
    repairs = [{**row, "done_at": "2026-03-02", "odometer": first} for row in FIX]
    frames = built(tmp_path, ("outcomes",), stock=STOCK, scans=scans, repairs=repairs)
    assert frames["outcomes"]["outcome"].to_list() == [expected]


def test_a_scan_known_by_vehicle_number_only_counts_once_the_stock_list_knows_it(tmp_path):
    stock = [{"vehicle": "A1", "vin": "ZZZCV1ALD00000001", "make": "Corvane", "model": "Alder"}]
    scans = [
        {"vin": "ZZZCV1ALD00000001", "scanned_at": "2026-03-01T09:00", "module": "ECM", "code": "P0301"},
        {"vin": "ZZZCV1ALD00000002", "scanned_at": "2026-03-01T09:00", "module": "ECM", "code": "P0302"},
    ]
    frames = built(tmp_path, ("open_codes", "rejects"), stock=stock, scans=scans)
    assert frames["open_codes"].select("vehicle", "code").rows() == [("A1", "ECM:P0301")]
    assert frames["rejects"].select("file", "row", "column", "value").rows() == [
        ("scans/scans.csv", 3, "vehicle", "ZZZCV1ALD00000002")
    ]


def test_a_maker_controlled_code_carries_its_make_and_a_standard_one_does_not(tmp_path):
    scans = [
        scan("2026-03-01T09:00", module="Engine", code="p1234"),
        scan("2026-03-01T09:00", module="0x7E8", code="P3400"),
        scan("2026-03-01T09:00", module="central electronics", code="00532"),
        scan("2026-03-01T09:00", module="Lamp box 7", code="U3003"),
    ]
    codes = built(tmp_path, ("open_codes",), stock=STOCK, scans=scans)["open_codes"]["code"].to_list()
    assert codes == ["BCM:00532@corvane", "ECM:P1234@corvane", "ECM:P3400", "LAMP BOX 7:U3003"]


def test_background_and_modifications_stay_on_the_sheet_but_out_of_the_baskets(tmp_path):
    stock = [{**STOCK[0], "modifications": "Aftermarket head unit; mats"}]
    scans = [
        scan("2026-03-01T09:00", module="BCM", code="U0184"),
        scan("2026-03-01T09:00", module="HVAC", code="B1000"),
        scan("2026-03-01T09:00", module="ECM", code="P0301"),
    ]
    background = [{"module": "climate", "code": "b1000", "make": "Corvane", "reason": "always there"}]
    frames = built(tmp_path, ("open_codes", "basket_codes"), stock=stock, scans=scans, background=background)
    assert frames["open_codes"].select("code", "background").rows() == [
        ("BCM:U0184", "modification: aftermarket head unit"),
        ("ECM:P0301", None),
        ("HVAC:B1000@corvane", "always there"),
    ]
    assert frames["basket_codes"]["code"].to_list() == ["ECM:P0301"]


def test_a_background_row_that_has_ended_masks_older_scans_only(tmp_path):
    scans = [scan("2026-03-01T09:00", code="P0301"), scan("2026-05-01T09:00", code="P0301")]
    background = [{"module": "ECM", "reason": "bench test", "until": "2026-04-01"}]
    frames = built(tmp_path, ("open_codes", "basket_codes"), stock=STOCK, scans=scans, background=background)
    assert frames["open_codes"]["background"].to_list() == [None]
    assert str(frames["basket_codes"]["first_seen"][0]) == "2026-05-01 09:00:00"


def test_after_an_erase_only_what_was_read_since_is_open(tmp_path):
    scans = [BEFORE, scan("2026-03-01T09:00", module="ABS", code="C0031")]
    frames = built(tmp_path, ("open_codes", "waiting"), stock=STOCK, scans=scans, repairs=FIX)
    assert frames["open_codes"].is_empty()
    assert frames["waiting"]["vehicle"].to_list() == ["A1"]


def test_a_sold_vehicle_is_out_of_stock_from_the_day_of_sale(tmp_path):
    stock = [{**STOCK[0], "sold_on": "2026-11-23"}, {"vehicle": "A2", "make": "Corvane", "model": "Alder"}]
    frames = built(tmp_path, ("stock",), stock=stock, scans=[BEFORE])
    assert frames["stock"]["vehicle"].to_list() == ["A2"]


def test_a_learned_return_distance_takes_the_place_of_the_setting(tmp_path):
    # Of the same code on six other cars it is seen that it needs some 60 km to be back; a drive of 60 proves little.
    cars: Rows = [{**STOCK[0], "vehicle": f"B{n}"} for n in range(6)]
    scans, repairs = [BEFORE, scan("2026-03-03T09:00", odometer=50060)], list(FIX)
    for car in (str(car["vehicle"]) for car in cars):
        scans.append({**BEFORE, "vehicle": car})
        scans.append(scan("2026-03-08T09:00", odometer=50050) | {"vehicle": car})
        scans.append(scan("2026-03-09T09:00", code="P0301", odometer=50070) | {"vehicle": car})
        repairs += [{**row, "vehicle": car} for row in FIX]
    everybody = built(tmp_path / "all", ("outcomes",), stock=[*STOCK, *cars], scans=scans, repairs=repairs)
    learned = everybody["outcomes"]
    assert learned.filter(vehicle="A1")["outcome"].to_list() == ["unproven"]
    assert learned.filter(vehicle="B1")["outcome"].to_list() == ["returned"]
    assert outcome(tmp_path / "alone", scans[1:2]) == ("cleared", 60.0)
