"""The pages of the invented dealer's desk after its week: jobs, the report, before buying, codes, the whole history."""

from __future__ import annotations

import csv
import io
import re
import shutil
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import quote

import polars as pl
import pytest

from analysis.diagnosis.decision.appraisal import quantile
from pipelines.batch.appraisal import appraisal
from pipelines.report import job_entry
from pipelines.settings import load_settings
from pipelines.storage.snapshots import snapshots
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace
from tests.support.desk_visitor import Visitor, tree

SCAN = "vehicle,scanned_at,module,code,status\n" + "".join(
    f"X-1,2026-11-20T09:00,{module},{code},active\n"
    for module, code in (("ECM", "P0299"), ("ECM", "P2463"), ("TCM", "U0401"), ("ABS", ""))
)


@pytest.fixture(scope="module")
def dealer(demo_week: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the invented dealer's workspace."""
    folder = tmp_path_factory.mktemp("desk") / "dealer"
    shutil.copytree(demo_week, folder)
    return folder


@pytest.fixture
def visitor(dealer: Path) -> Iterator[Visitor]:
    """A visitor; what a test has put into the inbox is taken away again."""
    yield Visitor(dealer)
    for path in (dealer / "inbox").rglob("*.csv"):
        path.unlink()


def text(answer: Any) -> str:
    """What a reader sees, on one line."""
    assert answer.status_code in (200, 400), answer.status_code
    body = re.sub(r"<(script|style).*?</\1>", "", answer.text, flags=re.DOTALL)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", body)).split())


def first(dealer: Path, action: str = "replace") -> dict[str, Any]:
    """A car's first line of the list, as it went out."""
    listed = pl.read_csv(dealer / "reports" / "2026-W48" / "shortlist.csv")
    return listed.filter((pl.col("rank") == 1) & (pl.col("action") == action)).to_dicts()[0]


def written(dealer: Path) -> list[dict[str, str]]:
    [path] = (dealer / "inbox" / "repairs").glob("*.csv")
    with path.open(encoding="utf-8", newline="") as handle:
        return [{name: cell for name, cell in row.items() if cell} for row in csv.DictReader(handle)]


def test_the_cars_with_open_codes_are_there_to_choose(visitor: Visitor, dealer: Path):
    listed = pl.read_csv(dealer / "reports" / "2026-W48" / "open_codes.csv")
    page = visitor.get("/jobs").text
    assert set(re.findall(r'href="/jobs\?vehicle=([^"]+)"', page)) == set(listed["vehicle"])
    car = first(dealer)
    assert re.search(rf"<b>{car['vehicle']}</b>[^<]*<span>\d+ open codes?: Replace {car['part']}", page)


def test_a_cars_codes_stand_there_in_words_with_the_work_that_its_sheet_proposes(visitor: Visitor, dealer: Path):
    car = first(dealer)
    said = text(visitor.get("/jobs?vehicle=" + quote(car["vehicle"])))
    with Warehouse(dealer / "knockon.duckdb") as warehouse:
        texts = dict(warehouse.fetch("marts.codes").select("code", "text").iter_rows())
    for code in car["clears"].split(";"):
        module, _, short = code.partition("@")[0].partition(":")
        assert f"{short} ({module}) {texts[code]}" in said
    place = f", {car['position']}" if car["position"] else ""
    assert f"Replace {car['part']}{place}" in said


def test_what_is_ticked_becomes_the_file_that_log_writes(visitor: Visitor, dealer: Path):
    car = first(dealer)
    page = visitor.get("/jobs?vehicle=" + quote(car["vehicle"])).text
    fields = dict(re.findall(r'name="(\w+p0)" (?:list="\w+" )?value="([^"]*)"', page))
    answer = visitor.post(
        "/jobs", vehicle=car["vehicle"], tickp0="1", erased="1", road_test="1", done_at="2026-11-22", odometer="84500",
        **{name: value for name, value in fields.items() if name != "tickp0"},
    )  # fmt: skip
    assert answer.status_code == 303
    rows = written(dealer)
    same = {"vehicle": car["vehicle"], "job": "2026-11-22-1", "done_at": "2026-11-22", "odometer": "84500"}
    work = {"action": "replace", "part": car["part"]} | ({"position": car["position"]} if car["position"] else {})
    assert rows[0] | same | work == rows[0]
    assert float(rows[0]["part_cost"]) == car["part_cost"]
    assert rows[1] == same | {"action": "erase", "note": "road test driven"}
    told = text(visitor.get("/jobs"))
    assert "is written down as repairs/job-" in told
    assert "No scan afterwards: drive it and scan it again" in told
    # The same, as the command has it written.
    settings, known = load_settings(dealer / "knockon.toml"), job_entry.known_names(Workspace(dealer), car["vehicle"])
    path = job_entry.write_job(
        Workspace(dealer), settings, same | {"job": "again"},
        [{k: v for k, v in row.items() if k not in same} for row in rows], known,
    )  # fmt: skip
    with path.open(encoding="utf-8", newline="") as handle:
        again = [{k: v for k, v in row.items() if v} for row in csv.DictReader(handle)]
    assert [row | {"job": "again"} for row in rows] == again


def test_a_part_that_nobody_knows_is_asked_about_and_what_was_typed_stays(visitor: Visitor, dealer: Path):
    car = first(dealer)["vehicle"]
    before = tree(dealer)
    fields = {"vehicle": car, "actiona0": "replace", "parta0": "bosst hose", "part_costa0": "55", "erased": "1"}
    answer = visitor.post("/jobs", **fields)
    assert answer.status_code == 400
    assert tree(dealer) == before
    assert "No part is called 'bosst hose' so far." in text(answer)
    assert '<option value="boost hose">' in answer.text.partition("meanta0")[2]
    assert 'name="part_costa0" value="55"' in answer.text
    assert re.search(r'name="erased" value="1" checked', answer.text)
    assert visitor.post("/jobs", **fields, meanta0="boost hose").status_code == 303
    assert [row.get("part") for row in written(dealer)] == ["boost hose", None]


def test_a_car_is_found_by_its_vehicle_number_and_an_unknown_one_is_said_at_once(visitor: Visitor, dealer: Path):
    with Warehouse(dealer / "knockon.duckdb") as warehouse:
        [(car, vin)] = warehouse.query(
            "select vehicle, min(vin) from raw.stock where vin is not null and vehicle in "
            "(select vehicle from marts.open_codes) group by vehicle order by vehicle limit 1"
        ).rows()
    page = visitor.get("/jobs?vehicle=" + vin.lower())
    assert f"Jobs: {car}, " in text(page)
    assert "<code>" in page.text.partition("Open codes</h2>")[2].partition("</section>")[0]
    visitor.post("/jobs", vehicle=vin, erased="1")
    assert {row["vehicle"] for row in written(dealer)} == {car}
    wrong = car[:-2] + car[-1] + car[-2]
    said = text(visitor.get("/jobs?vehicle=" + wrong + "x"))
    assert f"{wrong}x is in no stock list and no scan so far" in said


def test_the_last_known_odometer_decides_and_new_is_asked_of_an_unknown_car_or_part_alone(
    visitor: Visitor, dealer: Path
):
    with Warehouse(dealer / "knockon.duckdb") as warehouse:
        [(car, run)] = warehouse.query(
            "select vehicle, odometer::bigint from marts.stock_details where odometer > 100000 order by vehicle limit 1"
        ).rows()
    typed = f"{run + 12:,}"
    new = "Yes, this car or part is a new one"
    assert new not in text(visitor.post("/jobs", vehicle=car, erased="1", odometer="far"))
    assert new in text(visitor.post("/jobs", vehicle="Z-99", erased="1"))
    assert visitor.post("/jobs", vehicle=car, erased="1", odometer=typed).status_code == 303
    assert written(dealer)[0]["odometer"] == str(run + 12)


def test_as_last_time_takes_supplier_price_and_minutes(visitor: Visitor, dealer: Path):
    car = first(dealer)["vehicle"]
    last = job_entry.known_names(Workspace(dealer), car).last["boost hose"]
    visitor.post("/jobs", vehicle=car, actiona0="replace", parta0="Boost hose", lasta0="1", scanned="1")
    [row] = written(dealer)
    assert {name: row[name] for name in last} == last
    assert len(last) == 3


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"vehicle": "Z-99", "erased": "1"}, "Z-99 is in no stock list and no scan so far"),
        ({"erased": "1", "odometer": "far"}, "Odometer:"),
        ({"erased": "1", "done_at": "2026-13-01"}, "Done on:"),
        ({"erased": "1", "done_at": "2026-11-24"}, "Done on: that day is ahead of today."),
        ({}, "No piece of work was given, not even an erase. Nothing was written."),
    ],
)
def test_a_job_that_is_wrong_says_why_and_writes_nothing(
    visitor: Visitor, dealer: Path, fields: dict[str, str], why: str
):
    before = tree(dealer)
    answer = visitor.post("/jobs", **({"vehicle": first(dealer)["vehicle"]} | fields))
    assert answer.status_code == 400
    assert why in text(answer)
    assert tree(dealer) == before


def test_all_that_is_wrong_is_said_at_once_in_plain_words_on_a_page_that_can_be_loaded_again(
    visitor: Visitor, dealer: Path
):
    car = first(dealer)["vehicle"]
    fields = {"actiona0": "replace", "parta0": "boost hose", "part_costa0": "dear", "labour_minutesa0": "long"}
    sent = visitor.send("/jobs", vehicle=car, **fields, done_at="2026-12-24", odometer="far")
    assert sent.status_code == 303
    for _ in range(2):
        said = text(visitor.get(sent.headers["location"]))
        for name in ("Done on", "Odometer", "Price of the part (boost hose)", "Minutes (boost hose)"):
            assert f"{name}: " in said.partition("Show this car")[0]
        assert not re.search(r"part_cost|labour_minutes|done_at", said)


def test_a_job_that_no_run_has_read_is_shown_and_taken_back(visitor: Visitor, dealer: Path):
    visitor.post("/jobs", vehicle="Z-99", erased="1", new="1", scanned="1", parta0="boost hose", actiona0="replace",
                 part_costa0="49,90 €")  # fmt: skip
    assert written(dealer)[0]["part_cost"] == "49.90"
    page = visitor.get("/jobs")
    assert "the job's file cannot hold a scan. Drop that scan on the page Files" in text(page)
    assert "Z-99 2026-11-23: replaced boost hose, erased" in text(page)
    [file] = re.findall(r'name="file" value="([^"]+)"', page.text)
    assert visitor.post("/jobs/back", file=file).status_code == 303
    assert list((dealer / "inbox" / "repairs").glob("*.csv")) == []
    assert (dealer / "rejected" / "repairs" / file).is_file()
    assert visitor.post("/jobs/back", file=file).status_code == 400


def test_what_the_report_lists_for_a_car_is_what_the_page_proposes(visitor: Visitor, dealer: Path):
    car = first(dealer, "recheck")
    page = visitor.get("/jobs?vehicle=" + quote(car["vehicle"]))
    assert "As of the last run, week 2026-W48." in text(page)
    assert "Record, erase, drive, scan again" in text(page).partition("Proposed by the report")[2]
    visitor.post("/jobs", vehicle=car["vehicle"], tickp0="1", actionp0="recheck")
    assert [row["action"] for row in written(dealer)] == ["erase"]


def test_a_car_that_is_new_can_be_meant(visitor: Visitor, dealer: Path):
    assert visitor.post("/jobs", vehicle="Z-99", erased="1", new="1").status_code == 303
    assert written(dealer)[0]["vehicle"] == "Z-99"


def test_the_report_is_sent_under_its_own_policy(visitor: Visitor, dealer: Path):
    assert 'src="/report/2026-W48/index.html"' in visitor.get("/week").text
    answer = visitor.get("/report/2026-W48/index.html")
    assert answer.content == (dealer / "reports" / "2026-W48" / "index.html").read_bytes()
    policy = answer.headers["content-security-policy"]
    own = re.search(r'Content-Security-Policy" content="([^"]*)"', answer.text)
    assert own
    assert policy == unescape(own[1]) + "; frame-ancestors 'self'; base-uri 'none'; form-action 'none'"
    assert "'unsafe-inline'" not in policy.partition("script-src")[2].partition(";")[0]
    sheet = next((dealer / "reports" / "2026-W48" / "jobsheets").glob("*.html")).name
    policy = visitor.get(f"/report/2026-W48/jobsheets/{sheet}").headers["content-security-policy"]
    assert "script-src" not in policy
    assert policy.startswith("default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'self'")
    saved = visitor.get("/report/2026-W48/shortlist.xlsx")
    assert saved.headers["content-disposition"] == 'attachment; filename="shortlist.xlsx"'


def test_all_job_sheets_of_a_week_are_one_click_away_to_print(visitor: Visitor, dealer: Path):
    [link] = re.findall(r'href="(/report/[^"]*)"[^>]*>All job sheets, to print<', visitor.get("/week").text)
    sent = visitor.get(link)
    assert sent.status_code == 200
    cars = pl.read_csv(dealer / "reports" / "2026-W48" / "shortlist.csv")["vehicle"].unique()
    assert {*re.findall(r'<article class="sheet" aria-label="(.*?)">', sent.text)} == {*cars}
    assert "default-src 'none'" in sent.headers["content-security-policy"]


def test_a_report_without_a_policy_runs_no_script(visitor: Visitor, dealer: Path):
    place = dealer / "reports" / "2026-W01"
    place.mkdir()
    (place / "index.html").write_text("<script>alert(1)</script>", encoding="utf-8")
    policy = visitor.get("/report/2026-W01/index.html").headers["content-security-policy"]
    assert policy.startswith("default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'")
    shutil.rmtree(place)


@pytest.mark.slow
def test_a_backup_is_made_and_put_back(visitor: Visitor, dealer: Path):
    assert visitor.post("/week/backup").status_code == 303
    made = snapshots(Workspace(dealer))[-1]
    assert made.reason == "asked"
    assert f"The backup {made.name} is made." in text(visitor.get("/week"))
    visitor.post("/week/restore", name=made.name)
    said = text(visitor.get("/week"))
    assert re.search(rf"The backup {made.name} is back in its place, [\d,]+ rows\.", said)
    assert list((dealer / "backups" / "replaced").glob("*.duckdb"))


def test_the_space_that_is_used_and_the_last_log_are_shown(visitor: Visitor):
    said = text(visitor.get("/week"))
    assert re.search(r"what was read and learned \d+ MB", said)
    assert "the report stands" in visitor.get("/week/log").text


@pytest.fixture
def learned(demo_week: Path, tmp_path: Path) -> Visitor:
    """A visitor of a dealer whose database answers for its run; a restore leaves none that does."""
    shutil.copytree(demo_week, tmp_path / "dealer")
    return Visitor(tmp_path / "dealer")


@pytest.mark.slow
def test_a_car_is_appraised_as_the_command_does_it_and_loaded_nowhere(learned: Visitor):
    mark = learned.drop("scan.csv", SCAN.encode(), "/buying/upload").json()["mark"]
    before = tree(learned.desk.folder)
    answer = learned.post("/buying", mark=mark, make="Corvane", asking="4000", worth="much")
    assert answer.status_code == 400
    assert "Give money as a number like 2500." in text(answer)
    for thousands in ("4.000", "4,000", "4.000,00", "€ 4.000", "4000"):
        said = text(learned.post("/buying", mark=mark, make="Corvane", asking=thousands, worth="9.000"))
        # The car would bear more than is asked: nobody bids that.
        assert "Highest sensible bid €4,000 At most what is asked" in said, thousands
    said = text(learned.post("/buying", mark=mark, make="Corvane", asking="4 000 €", worth="6.000,00"))
    assert tree(learned.desk.folder) == before
    found = appraisal(learned.desk.workspace, learned.desk.scans.files()[0].path, "Corvane", None, 2000)
    for section in found.sections:
        assert section.title in said or section is found.cost
        assert all(line in said for line in section.lines)
    most, half = (quantile(found.costs, share) / 100 for share in (0.9, 0.5))
    assert round(6000 - most) > 4000
    assert "Highest sensible bid €4,000" in said
    assert f"the car would bear €{round(6000 - most):,}, and nobody pays more than the asking price" in said
    for line in (line for section in found.sections for line in section.lines if "no labour time is known" in line):
        assert f"Labour is not in this: {line}" in said
    assert f"€{round(6000 - 4000 - half):,}" in said
    learned.post("/buying/drop")
    assert "Drop the scan here" in learned.get("/buying").text


@pytest.mark.slow
def test_the_whole_history_is_the_reports_own(learned: Visitor):
    report = learned.desk.folder / "reports" / "2026-W48"
    for name, sent in (("families", "families.csv"), ("part_results", "parts.csv")):
        answer = learned.get(f"/explore/{sent}")
        assert answer.headers["content-disposition"] == f'attachment; filename="{name}.csv"'
        assert answer.content == (report / f"{name}.csv").read_bytes()
    assert learned.get("/explore/clusters.svg").content == (report / "pictures" / "clusters.svg").read_bytes()


@pytest.mark.slow
def test_a_choice_counts_only_its_jobs(learned: Visitor):
    # By hand, from the tables of the run: jobs of one make in one half-year, in which one part alone was worked on.
    with Warehouse(learned.desk.workspace.database) as warehouse:
        single = warehouse.query(
            "select parts.part, jobs.job_id from marts.job_parts as parts join marts.jobs as jobs using (job_id) "
            "where jobs.make = 'Corvane' and jobs.done_at >= '2026-03-01' and jobs.done_at < '2026-09-01' "
            "and (select count(*) from marts.job_parts as others where others.job_id = jobs.job_id) = 1"
        )
        jobs = warehouse.number(
            "select count(*) from marts.jobs "
            "where make = 'Corvane' and done_at >= '2026-03-01' and done_at < '2026-09-01'"
        )
    query = "make=Corvane&since=2026-03-01&until=2026-08-31"
    assert f"{jobs} jobs in this choice." in text(learned.get(f"/explore?{query}"))
    rows = pl.read_csv(io.BytesIO(learned.get(f"/explore/parts.csv?{query}").content))
    assert rows.height > 3
    times = dict(single.group_by("part").len().iter_rows())
    assert all(jobs <= times[part] for part, jobs in rows.select("part", "jobs").iter_rows())
    everything = pl.read_csv(io.BytesIO(learned.get("/explore/parts.csv").content))
    assert 0 < rows["jobs"].sum() < everything["jobs"].sum()


@pytest.mark.slow
def test_a_supplier_is_held_against_the_same_erases(learned: Visitor):
    everything = pl.read_csv(io.BytesIO(learned.get("/explore/parts.csv").content))
    supplier = "Nordkette"
    rows = pl.read_csv(io.BytesIO(learned.get(f"/explore/parts.csv?supplier={supplier}").content))
    told = everything.select("part", "family", "suppliers", "erase_jobs").join(
        rows.select("part", "family", "jobs", "cleared", pl.col("erase_jobs").alias("own_erases")),
        on=["part", "family"],
    )
    assert told.height == rows.height > 3
    for row in told.to_dicts():
        # The table of all suppliers says the same of this one.
        assert f"{supplier} {row['cleared']}/{row['jobs']}" in row["suppliers"].split(";")
        assert row["own_erases"] == row["erase_jobs"]


@pytest.mark.slow
@pytest.mark.parametrize("query", ["make=Nobody", "supplier=%3Cscript%3E", "line=x", "since=soon", "until=2026-02-30"])
def test_what_cannot_be_chosen_is_refused(learned: Visitor, query: str):
    answer = learned.get(f"/explore?{query}")
    assert answer.status_code == 400
    assert "That is none of the choices." in text(answer)
    assert "<script>" not in answer.text


@pytest.mark.slow
def test_the_codes_to_look_past_are_those_of_the_report(learned: Visitor):
    listed = pl.read_csv(learned.desk.folder / "reports" / "2026-W48" / "standing.csv")
    page = learned.get("/standing").text
    assert page.count("<article") == listed.height > 0
    assert page.count('value="yes"') == listed.filter(pl.col("state") == "proposed").height
    assert all(code in page for codes in listed["codes"] for code in codes.split(";"))
