"""The page section by section: tickets, families, changes and what was set aside hold what the tables hold."""

from __future__ import annotations

import json
import re
import sys
from datetime import datetime

import polars as pl
import pytest

from analysis.charts import draw, page
from analysis.charts.page import MOST_CARS
from analysis.charts.page_sections import MOST_LINES, asides
from analysis.charts.tickets import tickets
from tests.support.page_reader import Reader, charts_of, drawn
from tests.support.sample_report import prepared, sample


def test_the_numbers_of_every_ticket_are_those_of_the_table():
    rows = {(row["vehicle"], row["rank"]): row for row in sample()[0]["shortlist"].to_dicts()}
    articles = re.findall(r'<article class="ticket.*?</article>', drawn(), re.DOTALL)
    seen = 0
    for article in articles:
        vehicle = re.search(r'data-vehicle="([^"]*)"', article)[1]  # type: ignore[index]
        first, *later = re.split(r'<li value="\d+">', article)
        ranks = [1, *map(int, re.findall(r'<li value="(\d+)">', article))]
        for rank, text in zip(ranks, [first, *later], strict=True):
            row = rows[vehicle, rank]
            shown = Reader(text.split("<details")[0]).shown
            assert float(re.search(r"€([\d,.]+)", shown)[1].replace(",", "")) == row["total_cost"]  # type: ignore[index]
            if row["action"] != "specialist":
                assert f"{row['chance'] * 100:.0f}%" in shown
            if rank == 1 or row["part"]:
                assert all(code in shown for code in row["clears"].split(";"))
            seen += 1
    assert seen == len(rows)


def test_a_check_that_pays_stands_in_the_title_and_on_the_ticket():
    rows = sample()[0]["shortlist"].sort("vehicle", "rank").to_dicts()
    pays = [row for row in rows if row["check_first"] and row["check_first"].startswith("Checking first is cheaper")]
    text = drawn()
    assert pays
    assert text.count('<p class="check pays"><b>Checking first is cheaper</b> About 10 minutes; buy it') == len(pays)
    firsts = sum(row["rank"] == 1 for row in pays)
    assert text.count("Check, then replace battery") == len(pays) + 2 * firsts, (
        "a first try stands in the list and on the week's sheet too"
    )
    assert "Checking first is cheaper:" not in text, "the phrase of the table stands in two pieces here"


def test_a_family_says_of_how_many_erases_its_rate_is():
    tables, run = sample()
    family = tables["families"].filter(pl.col("erase_rate").is_not_null())["family"][0]
    for jobs, wanted in (
        (1, "stayed away in 12% (1 of 1 known erase)"),
        (8, "stayed away in 12% (1 of 8 known erases)"),
    ):
        counts = pl.when(family=family).then(pl.lit(jobs, pl.Int64)).otherwise(pl.lit(0, pl.Int64))
        results = tables["part_results"].with_columns(erase_jobs=counts, erase_cleared=pl.lit(1, pl.Int64))
        text = page(tables | {"part_results": results}, run, drawn={})
        assert [" ".join(Reader(one).shown.split()) for one in re.findall(r"stayed away in .*?</dd>", text)].count(
            wanted
        ) == 1


def test_tables_behind_the_charts_hold_what_the_charts_draw():
    text = Reader(drawn()).shown
    for row in sample()[0]["part_results"].to_dicts():
        assert row["suppliers"] in text
    points = {row["point"] for row in next(iter(charts_of(drawn())["costs"]["datasets"].values())) if "point" in row}  # type: ignore[attr-defined]
    assert points <= set(re.findall(r'data-point="([^"]+)"', drawn()))


def test_what_changed_is_told_as_the_tables_hold_it():
    section = re.search(r'<section id="changed".*?</section>', drawn(), re.DOTALL)[0]  # type: ignore[index]
    shown = " ".join(Reader(section.replace("</", " </")).shown.split())
    assert (
        "Against the report of week 2026-W47. 1 new, 1 with another first step, 1 off the list and 4 groups changed."
        in shown
    )
    for row in sample()[0]["car_changes"].to_dicts():
        assert f"{row['vehicle']} {row['first_try']}" in shown or row["change"] == "off"
    assert "K-1011 record, erase, drive, scan again (before: replace boost hose)" in shown
    assert "1 off the list K-0998" in shown
    for told in ("new ECM:P0562 System voltage low: 5 cars",
                 "growing ABS:C0031 Wheel speed sensor front left: 12 cars, 9 before; came: S-1, S-2, S-3",
                  "fading ECM:P0299 Boost pressure too low: 7 cars, 8 before", "vanished ECM:P0441 4 cars before",
                  "steady 4 groups"):  # fmt: skip
        assert told in shown
    assert "There is no earlier report to compare with." in Reader(drawn("empty")).shown


def test_every_car_on_the_list_has_its_story_and_every_family_its_latest_cars():
    text, tables = drawn(), sample()[0]
    told = json.loads(re.search(r'id="stories">(.*?)</script>', text)[1])  # type: ignore[index]
    assert set(told) == set(tables["shortlist"]["vehicle"])
    assert text.count('<details class="tells"') == len(told)
    for vehicle, story in told.items():
        seen = tables["seen"].filter(pl.col("vehicle") == vehicle)
        assert sum(marks.count("s") for _, marks in story["codes"]) == seen.height
        assert all(len(marks) == len(story["visits"]) for _, marks in story["codes"])
    for (family,), cars in tables["family_cars"].partition_by("family", as_dict=True).items():
        card = re.search(rf'<article class="family" data-family="{family}".*?</article>', text, re.DOTALL)[0]  # type: ignore[index]
        latest = cars.sort("last_seen", "vehicle", descending=[True, False]).head(MOST_CARS)
        assert re.findall(r"<b>(S-\d+)</b> ([\d-]+)", card) == [
            (vehicle, str(day)) for vehicle, day in latest.select("vehicle", "last_seen").iter_rows()
        ]


def test_what_no_fault_sets_is_asked_with_the_line_that_answers():
    section = re.search(r'<section id="standing".*?</section>', drawn(), re.DOTALL)[0]  # type: ignore[index]
    shown = " ".join(Reader(section.replace("</", " </")).shown.split())
    assert "1 question to decide; 2 left alone already." in shown
    assert "RADIO:B1125 on Corvane: 7 cars, there again after 19 erases and repairs." in shown
    line = ',Corvane,RADIO,B1125,"there through every erase, on many cars of the make",'
    assert f"vehicle,make,module,code,reason,until {line}" in shown
    assert (
        "BCM:U3003 and HVAC:B10AF@aldane on K-1018: 1 car, there again after 4 erases and repairs. Left out of" in shown
    )
    assert "ECM:P0562 on Tesmar: an erase alone ends them (3 cars). Named in your background file" in shown
    assert "No group of codes stands out" in Reader(drawn("empty")).shown


def test_each_ticket_leads_to_its_job_sheet_where_there_is_one():
    tables, run = sample()
    text = page(tables, run, {"K-1004": "K-1004", "K-1011": "odd-1a2b3c4d"}, drawn={})
    assert re.findall(r'href="(jobsheets/[^"]*)"', text) == [
        f"jobsheets/{name}.{kind}" for name in re.findall(r'id="car-\d+"[^>]*>(K-10(?:04|11))</button>', text)
        for name in [{"K-1004": "K-1004", "K-1011": "odd-1a2b3c4d"}[name]] for kind in ("html", "pdf")
    ]  # fmt: skip
    assert text.count("jobsheets/") == 4


def test_a_ticket_whose_sheet_is_no_pdf_leads_to_the_page_alone():
    tables, run = sample()
    names = {"K-1004": "K-1004", "K-1011": "K-1011"}
    text = page(tables, run, names, drawn={}, papers=["K-1011"])
    assert set(re.findall(r'href="jobsheets/([^"]*)"', text)) == {"K-1004.html", "K-1011.html", "K-1011.pdf"}


@pytest.mark.slow
def test_of_very_many_cars_the_page_lists_the_first_and_counts_all(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(sys.modules["analysis.charts.page"], "MOST_LISTED", 2)
    tables, run = sample()
    order = [ticket.vehicle for ticket in tickets(tables["shortlist"], tables["open_codes"])]
    text = page(tables, run, drawn={})
    assert re.findall(r'id="car-\d+"[^>]*>([^<]*)</button>', text) == order[:2]
    shown = " ".join(Reader(text).shown.split())
    assert f"The first 2 of {len(order)} cars stand here" in shown
    assert f"{len(order)} cars to look at" in shown
    points = draw(tables, run["settings"])["costs"]["datasets"]  # type: ignore[arg-type]
    named = {car for rows in points.values() for row in rows for car in str(row.get("cars", "")).split(", ")} - {""}
    assert named <= set(order[:2])


def row(vehicle: str, action: str, chance: float | None, cost: int | None) -> dict[str, object]:
    """A first row of the shortlist; a cost of 0 or 99 is cheap."""
    return {
        "vehicle": vehicle,
        "rank": 1,
        "action": action,
        "chance": chance,
        "total_cost": cost,
        "cheap": cost in (0, 99),
    }


def test_tickets_stand_cheap_then_by_chance_per_cost_then_rechecks_then_cars_to_hand_over():
    listed = prepared(
        "shortlist",
        [
            row("leave", "leave", None, 0), row("hand over", "specialist", 1.0, 30000),
            row("dear", "replace", 0.9, 20000),
            row("no price", "replace", 0.9, None), row("b level", "repair", 0.5, 5000),
            row("a level", "replace", 0.5, 5000), row("unlikely recheck", "recheck", 0.1, 0),
            row("recheck", "recheck", 0.3, 0), row("free", "repair", 0.2, 0),
            row("cheap and unlikely", "replace", 0.001, 99),
        ],
    )  # fmt: skip
    wanted = [
        "free",
        "cheap and unlikely",
        "a level",
        "b level",
        "dear",
        "no price",
        "recheck",
        "unlikely recheck",
        "hand over",
        "leave",
    ]
    assert [ticket.vehicle for ticket in tickets(listed, prepared("open_codes", OPEN))] == wanted


OPEN = [
    {"vehicle": "free", "module": "M", "code": "M:2", "family": "g;f"},
    {"vehicle": "free", "module": "M", "code": "M:1", "family": "f"},
    {"vehicle": "free", "module": "M", "code": "M:0", "background": "towbar"},
    {"vehicle": "gone", "module": "M", "code": "M:9", "background": "towbar"},
]


def test_a_ticket_knows_its_families_and_what_is_looked_past():
    (ticket,) = tickets(prepared("shortlist", [row("free", "repair", 0.2, 0)]), prepared("open_codes", OPEN))
    assert ticket.families == ["f", "g"]
    assert ticket.past == [("M:0", "towbar")]


def test_what_was_set_aside_is_counted_with_its_reason():
    outcomes = prepared(
        "outcomes",
        [
            {"vehicle": "v", "job": str(job), "module": "M", "code": code, "outcome": outcome}
            for job, (code, outcome) in enumerate(
                [("M:1", "unread"), ("M:2", "unproven"), ("M:2", "unproven"), ("M:1", "unproven"), ("M:1", "cleared")]
            )
        ],
    )
    rejects = prepared("rejects", [{"file": f"f{number}", "why": "w"} for number in range(MOST_LINES + 3)])
    heaps = {heap.title: heap for heap in asides(outcomes, prepared("open_codes", OPEN), rejects)}
    assert {title: heap.size for title, heap in heaps.items()} == {
        "Could not be read": MOST_LINES + 3, "Not read again": 1, "Not proven yet": 3, "Left alone": 2,
    }  # fmt: skip
    assert heaps["Not proven yet"].lines == [(2, "M", "M:2"), (1, "M", "M:1")]
    assert heaps["Left alone"].lines == [("free", "M:0", "towbar"), ("gone", "M:9", "towbar")]
    assert (len(heaps["Could not be read"].lines), heaps["Could not be read"].more) == (MOST_LINES, 3)


def test_what_recurred_is_told_apart_with_how_far_it_held():
    tables, run = sample()
    late = {"vehicle": "K-1", "job": "J<1>", "code": "ECM:P0301", "km_proven": 300.0, "km_to_return": 9000.0}
    late |= {"days_to_return": 240.0, "part": "ignition coil", "position": "2"}
    unknown = late | {"vehicle": "K-2", "km_proven": None, "km_to_return": None, "part": None, "position": None}
    recurred = pl.DataFrame([late, late | {"part": "spark plug", "position": ""}, unknown])
    for unit, told in (("km", "held 300 km, back after 9,000 km"), ("mi", "held 187 mi, back after 5,593 mi")):
        settings = run["settings"] | {"odometer_unit": unit}
        text = page(tables | {"recurred": recurred}, run | {"settings": settings}, drawn={})
        [section] = re.findall(r'<details class="view" id="recurred">.*?</details>', text, re.DOTALL)
        rows = [
            re.findall(r"<td>(.*?)</td>", row) for row in re.findall(r"<tr>(.*?)</tr>", section.split("<tbody>")[1])
        ]
        assert [[Reader(cell).shown.replace("\xa0", " ").strip() for cell in row] for row in rows] == [
            ["K-1", "J<1>", "ignition coil, 2; spark plug", "ECM:P0301", told],
            ["K-2", "J<1>", "", "ECM:P0301", f"held 0 {unit}, back after 240 days"],
        ]
    assert 'id="recurred"' not in page(tables, run, drawn={})


def test_the_mark_and_the_age_of_the_scan_stand_on_the_row_and_the_caution_in_full_on_the_ticket():
    tables, run = sample()
    firsts = {row["vehicle"]: row for row in tables["shortlist"].filter(pl.col("rank") == 1).to_dicts()}
    [plain] = [car for car in sorted(firsts) if firsts[car]["action"] == "replace"][:1]
    told = "On this car: Brake or stability code open (ABS:C0040): prove the base brakes."
    car = pl.col("vehicle") == plain
    listed = tables["shortlist"].with_columns(caution=pl.when(car).then(pl.lit(told)).otherwise("caution"))
    read = tables["read"].with_columns(
        scanned_at=pl.when(car).then(pl.lit(datetime(2026, 10, 7))).otherwise("scanned_at")
    )
    text = page(tables | {"shortlist": listed, "read": read}, run, drawn={})
    bodies = {
        body[1]: body[0] for body in re.finditer(r'<tbody[^>]* data-vehicle="([^"]+)".*?</tbody>', text, re.DOTALL)
    }
    assert "▲" not in bodies[plain].split('<tr class="ticket"')[0]
    assert "data-mind" not in bodies[plain].split(">")[0]
    assert told in Reader(bodies[plain]).shown
    assert "scan 47\N{NO-BREAK SPACE}d ago" in bodies[plain]
    marked = [car for car, body in bodies.items() if "▲" in body.split('<tr class="ticket"')[0]]
    assert marked
    assert all(firsts[car]["caution"] for car in marked)
    assert marked == [car for car, body in bodies.items() if 'data-mind="1"' in body.split(">")[0]]
