"""``knockon trace``: every row it names must hold what it is named for, and every count must add up."""

import csv
import hashlib
import json
import re
import shutil
from collections import Counter
from datetime import date

import polars as pl
import pytest

from analysis.texts.formatter import PLAIN, Formatter
from pipelines.batch.last_week import open_last_week
from pipelines.batch.weekly import run_week
from pipelines.commands.cli import main
from pipelines.lineage.derived_values import families, part_results, rules, shortlist
from pipelines.lineage.source_files import SourceFiles
from pipelines.lineage.source_rows import Rows, scans
from pipelines.lineage.trace import trace
from pipelines.lineage.view import sections
from pipelines.settings import load_settings
from pipelines.storage.session import reading
from pipelines.workspace import Workspace
from tests.support.small_dealer import workspace, write

AS_OF = date(2026, 11, 23)
STOCK = [{"vehicle": f"old-{k}", "make": "Corvane", "model": "Alder", "sold_on": "2026-11-01"} for k in (1, 2, 3)]
STOCK += [{"vehicle": "K-1004", "vin": "1M8GDM9AXKP042788", "make": "Corvane", "model": "Alder"}]
TOW_BAR = [{"module": "BCM", "code": "B1317", "reason": "tow bar", "until": "2026-12-31"}]
PRICES = [{"part": "wheel speed sensor", "part_cost": 40, "labour_minutes": 20}]


def scan(vehicle: str, at: str, module: str, code: str = "", **more: object) -> dict[str, object]:
    return {"vehicle": vehicle, "vin": "", "scanned_at": at, "module": module, "code": code, **more}


@pytest.fixture(scope="module")
def dealer(tmp_path_factory) -> Workspace:
    """Three repairs, one of them on a guess; a car in stock; and a second file that repeats rows of the first."""
    seen, repairs = [], []
    for k in range(1, 4):
        seen.append(scan(f"old-{k}", f"2026-10-0{k}T09:00", "ABS", "C0031", odometer=1000))
        seen.append(scan(f"old-{k}", f"2026-10-2{k}T09:00", "ABS", "" if k < 3 else "C0031", odometer=1500))
        for work in ({"action": "replace", "part": "wheel speed sensor"}, {"action": "erase"}):
            repairs.append({"vehicle": f"old-{k}", "job": f"J{k}", "done_at": f"2026-10-1{k}", **work})
    car = [
        scan("K-1004", "2026-11-18T09:00", "ABS"),
        scan("K-1004", "2026-11-19T09:00", "ECM", "P0562", status="active"),
        scan("K-1004", "2026-11-20T09:00", "ABS", "C0031", status="active", failure_type="13"),
        scan("K-1004", "2026-11-20T09:00", "BCM", "B1317"),
        scan("K-1004", "2026-11-20T09:00", "TCM", module_state="silent"),
    ]
    by_vin = [{**scan("", "2026-11-21T09:00", "ABS", "C0031"), "vin": "1M8GDM9AXKP042788"}]
    tables = {"repairs": repairs, "stock": STOCK, "parts": PRICES, "background": TOW_BAR}
    place = workspace(tmp_path_factory.mktemp("trace") / "dealer", scans=seen + car, **tables)
    write(place.inbox / "scans" / "week two.csv", [scan("Z-1", "2026-11-20T09:00", "ABS"), *car[2:4], *by_vin])
    run_week(place, AS_OF)
    return place


def cells(place: Workspace, found: dict, said: str) -> dict[str, str]:
    """Return the cells of a row such as 'scans/november.csv row 12', out of the archive, by the plain csv module."""
    name, _, row = said.rpartition(" row ")
    [file] = [file for file in found["files"] if file["name"] == name]
    path = place.root / file["archived_as"]
    assert hashlib.sha256(path.read_bytes()).hexdigest() == file["sha256"]
    with path.open(encoding="utf-8-sig", newline="") as handle:
        lines = list(csv.reader(handle))
    return dict(zip(lines[0], lines[int(row) - 1], strict=True))  # the header is row 1


def test_every_scan_of_the_car_is_told_with_its_rows(dealer) -> None:
    found = trace(dealer, "K-1004", "ABS:C0031")
    assert [(each["scanned_at"][:10], each["code_is"], each["modules_read"]) for each in found["scans"]] == [
        ("2026-11-18", "absent", ["ABS"]),
        ("2026-11-19", "unknown: the module was not read", ["ECM"]),
        ("2026-11-20", "present", ["ABS", "BCM"]),
        ("2026-11-21", "present", ["ABS"]),
    ]
    for each in found["scans"]:
        for row in each["rows"]:
            held = cells(dealer, found, row["place"])
            assert row["found"]
            assert (held["vehicle"] or held["vin"]) in ("K-1004", "1M8GDM9AXKP042788")
            assert held["scanned_at"][:10] == each["scanned_at"][:10]
            assert held["module"] == "ABS"
            assert held["code"] == ("C0031" if each["code_is"] == "present" else "")
    assert found["open"]["status"] == ""
    assert (found["open"]["first_seen"], found["open"]["last_seen"]) == ("2026-11-20", "2026-11-21")


def test_a_row_that_stands_in_two_files_names_both(dealer) -> None:
    found = trace(dealer, "K-1004", "C0031")
    [row] = found["scans"][2]["rows"]
    assert row["place"] == "scans/scans.csv row 10"
    assert row["also_in"] == ["scans/week two.csv row 3"]
    [masked] = trace(dealer, "K-1004", "B1317")["scans"][2]["rows"]
    assert masked["also_in"] == ["scans/week two.csv row 4"], "a file that brought nothing new of this code"
    with (
        (dealer.root / "archive")
        .joinpath(
            next(f["archived_as"] for f in found["files"] if f["name"] == "scans/scans.csv").removeprefix("archive/")
        )
        .open(encoding="utf-8") as handle
    ):
        assert list(csv.reader(handle))[9][:4] == ["K-1004", "", "2026-11-20T09:00", "ABS"]


def test_a_module_that_gave_no_answer_says_nothing(dealer) -> None:
    with pytest.raises(Exception, match=r"^K-1004 never showed 'TCM:U0100'; .*\. Nothing was changed\.$"):
        trace(dealer, "K-1004", "TCM:U0100")
    assert all("TCM" not in each["modules_read"] for each in trace(dealer, "K-1004", "P0562")["scans"])


def test_a_masked_code_names_the_row_that_masks_it(dealer) -> None:
    found = trace(dealer, "K-1004", "b1317")
    assert found["code"] == "BCM:B1317@corvane"
    assert found["looked_past"]["reason"] == "tow bar"
    assert found["looked_past"]["until"] == "2026-12-31"
    [row] = found["looked_past"]["rows"]
    assert row["place"] == "background/background.csv row 2"
    assert found["shortlist"] == []
    said = [line for section in sections(found, PLAIN) for line in section.lines]
    assert "left alone until 2026-12-31: tow bar; background/background.csv row 2" in said


@pytest.mark.slow
def test_jobs_and_lines_of_the_list_rest_on_the_rows_that_are_named(dealer) -> None:
    old = trace(dealer, "old-3", "C0031")
    [job] = old["jobs"]
    assert (job["job"], job["outcome"], job["km"], job["erased"]) == ("J3", "returned", 500, True)
    assert [cells(dealer, old, row["place"])["action"] for row in job["rows"]] == ["replace", "erase"]
    assert old["open"] is None
    assert not old["car"]["in_stock"]

    found = trace(dealer, "K-1004", "C0031")
    first = found["shortlist"][0]
    assert first["what"] == "replace wheel speed sensor"
    assert cells(dealer, found, first["price"]["rows"][0]["place"])["part_cost"] == "40"
    assert first["part_cost"] == 40
    ends = {(visit["vehicle"], visit["counts_as"]) for visit in first["visits"]}
    assert ends == {("old-1", "cleared"), ("old-2", "cleared"), ("old-3", "returned")}
    assert (first["jobs"], first["jobs_cleared"]) == (3, 2)
    for visit in first["visits"]:
        for row in visit["rows"]:
            held = cells(dealer, found, row["place"])
            assert (held["vehicle"], held["job"]) == (visit["vehicle"], visit["job"])


@pytest.mark.slow
def test_a_file_that_was_touched_or_lost_is_said(dealer, tmp_path) -> None:
    place = Workspace(tmp_path / "copy")
    shutil.copytree(dealer.root, place.root)
    files = {file["name"]: place.root / file["archived_as"] for file in trace(dealer, "K-1004", "C0031")["files"]}
    files["scans/scans.csv"].write_text(files["scans/scans.csv"].read_text().replace("C0031", "C0035"))
    files["parts/parts.csv"].unlink()
    found = trace(place, "K-1004", "C0031")
    states = {file["name"]: file["state"] for file in found["files"]}
    assert states["scans/scans.csv"] == "changed since it was loaded"
    assert states["parts/parts.csv"] == "missing from the archive"
    assert states["stock/stock.csv"] == "as it was loaded"
    [row] = found["scans"][2]["rows"]
    assert (row["found"], row["also_in"]) == (False, ["scans/week two.csv row 3"])
    assert not found["shortlist"][0]["price"]["rows"][0]["found"]


@pytest.mark.slow
def test_the_command_prints_tables_or_json_and_changes_nothing(dealer, capsys) -> None:
    before = hashlib.sha256(dealer.database.read_bytes()).hexdigest()
    assert main(["trace", "K-1004", "C0031", str(dealer.root)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("ABS:C0031 on K-1004, as the report of 2026-W48 has it\n  Corvane Alder, in stock; stock/")
    assert "Line 1 of the list: replace wheel speed sensor" in said
    assert re.search(r"2026-11-20 09:00 .* present", said)
    assert "\n  its failure type says: electrical: open circuit\n" in said
    assert main(["trace", "K-1004", "C0031", str(dealer.root), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == json.loads(json.dumps(trace(dealer, "K-1004", "C0031")))
    assert hashlib.sha256(dealer.database.read_bytes()).hexdigest() == before


ISO_DAY, KM = re.compile(r"\b\d{4}-\d\d-\d\d\b"), re.compile(r"\bkm\b")


def printed(found: dict, formatter: Formatter) -> str:
    """Return all that is printed of a traced code; the names of kept files, which begin with a day, are left out."""
    told = [section for section in sections(found, formatter) if section.title != "Files"]
    return "\n".join(
        " | ".join(row)
        for one in told
        for row in ([one.title], one.lines, *([one.head, *one.rows] if one.rows else []))
    )


@pytest.mark.slow
def test_what_is_printed_follows_the_dealers_unit_and_dates(dealer) -> None:
    found = trace(dealer, "old-3", "C0031")
    british = Formatter("GBP", "mi", "day first")
    assert "\n2026-10-23 09:00 | 1500 | 1 | present" in printed(found, PLAIN)
    said = printed(found, british)
    assert "\n23.10.2026 09:00 | 932 | 1 | present" in said  # 1500 km are 932.06 miles of 1.609344 km
    assert "\n13.10.2026 | J3 | replace wheel speed sensor, erase | returned | 311 | " in said  # 500 km
    for code in ("C0031", "B1317"):
        said += printed(trace(dealer, "K-1004", code), british)
    assert "left alone until 31.12.2026: tow bar" in said
    assert "open: first seen 20.11.2026, last 21.11.2026, " in said
    assert "\n11.10.2026 | old-1 | J1 | cleared | 311 | " in said
    assert ISO_DAY.findall(said) == KM.findall(said) == []


def test_the_command_takes_unit_and_dates_from_the_settings_and_json_stays_as_it_is(dealer, tmp_path, capsys) -> None:
    place = Workspace(tmp_path / "copy")
    shutil.copytree(dealer.root, place.root)
    place.settings_file.write_text('odometer_unit = "mi"\ndate_style = "month first"\n', encoding="utf-8")
    assert main(["trace", "old-3", "C0031", str(place.root)]) == 0
    assert re.search(r"scan +mi +modules", said := capsys.readouterr().out)
    assert "10/23/2026 09:00" in said
    assert main(["trace", "old-3", "C0031", str(place.root), "--json"]) == 0
    [job] = json.loads(capsys.readouterr().out)["jobs"]
    assert job["done_at"] == "2026-10-13"
    assert job["km"] == 500, "as the report had it: what the files mean is settled when the week is run"


def test_a_specialists_line_tells_no_chance_and_no_jobs(dealer) -> None:
    found = trace(dealer, "K-1004", "C0031")
    [row] = [row for row in found["shortlist"] if row["action"] == "specialist"]
    assert (row["part"] or "", row["jobs"]) == ("", 0)
    told = {section.title: list(section.lines) for section in sections(found, Formatter("EUR"))}
    assert told[f"Line {row['rank']} of the list: {row['what']}"] == [
        "cost €300",
        f"clears {row['clears']}; leaves nothing",
    ]
    first = told["Line 1 of the list: replace wheel speed sensor"][0]
    assert re.fullmatch(r"chance \d+%, \d+% to \d+%, cost €55, 2 of 3 jobs cleared", first)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["k1004", "C0031"], "'k1004' is no vehicle of this workspace; near it: K-1004. Nothing was changed."),
        (["K-1004", "C0032"], "K-1004 never showed 'C0032'; it has ABS:C0031, BCM:B1317@corvane, ECM:P0562. Nothing"),
        (["Z-1", "C0031"], "Z-1 never showed 'C0031'; it has none. Nothing was changed."),
    ],
)
def test_what_is_not_known_is_an_error(dealer, capsys, words, said) -> None:
    assert main(["trace", *words, str(dealer.root)]) == 1
    assert capsys.readouterr().err.startswith(f"knockon: {said}")


@pytest.fixture(scope="module")
def demo(demo_week):
    """The invented dealer after its week, opened again."""
    place = Workspace.open(demo_week)
    with reading(place) as warehouse:
        last = open_last_week(place, load_settings(place.settings_file), warehouse, ["baskets", "basket_codes"])
        yield place, last, warehouse


@pytest.mark.slow
def test_summed_over_all_cars_the_counts_are_those_of_the_report(demo) -> None:
    place, last, _ = demo
    reports = {name: pl.read_csv(place.reports / "2026-W48" / f"{name}.csv") for name in ("rules", "part_results")}
    report_families = pl.read_csv(place.reports / "2026-W48" / "families.csv")
    [code] = reports["rules"]["antecedent"].mode().sort().head(1)
    counted = Counter[object]()
    for vehicle in sorted(set(last.facts["baskets"]["vehicle"])):
        told = [(fact["antecedent"], fact["consequent"], fact) for fact in rules(last, vehicle, code)]
        told += [(fact["family"], "", fact) for fact in families(last, vehicle, code)]
        counted.update({(one, other): int(fact["this_car_counts"]) for one, other, fact in told})
        counted.update((fact["part"], fact["family"]) for fact in part_results(last, vehicle, code))
    mine = {family for family, other in counted if not other}
    naming = pl.concat_str("antecedent", "consequent", separator=";").str.split(";").list.contains(code)
    expected = {(row[0], row[1]): row[2] for row in reports["rules"].filter(naming).iter_rows()}
    expected |= {(family, ""): n for family, n in report_families.select("family", "vehicles").rows() if family in mine}
    of_parts = reports["part_results"].select("part", "family", "jobs").rows()
    expected |= {(part, family): jobs for part, family, jobs in of_parts if family in mine}
    assert mine
    assert counted == expected


def test_the_command_names_the_groups_of_a_code_with_its_part_in_them(demo_week, capsys) -> None:
    report = demo_week / "reports" / "2026-W48"
    groups = {code: row for row in pl.read_csv(report / "families.csv").to_dicts() for code in row["codes"].split(";")}
    seen = pl.read_csv(report / "open_codes.csv").filter(pl.col("code").is_in([*groups])).row(0, named=True)
    assert main(["trace", seen["vehicle"], seen["code"], str(demo_week)]) == 0
    lines = [line.split() for line in capsys.readouterr().out.splitlines()]
    group = groups[seen["code"]]
    [told] = [words for words in lines if words[:1] == [group["family"]] and words[2:3] == [str(group["vehicles"])]]
    assert told[1] in {"root", "knock-on", "member"}
    assert ["group", "role", "cars"] in [words[:3] for words in lines]


@pytest.mark.slow
def test_the_visits_of_each_line_add_up_to_its_jobs_and_every_row_is_found(demo) -> None:
    place, last, warehouse = demo
    rows = Rows(SourceFiles(place, load_settings(place.settings_file), warehouse))
    listed = last.shortlist.filter(pl.col("jobs") > 0).sort("vehicle", "rank")
    for vehicle, clears in listed.gather_every(25).select("vehicle", "clears").iter_rows():
        code = clears.split(";")[0]
        for line in shortlist(last, warehouse, rows, vehicle, code):
            ends = [visit["counts_as"] for visit in line["visits"] if visit["counts_as"]]
            assert (len(ends), ends.count("cleared")) == (line["jobs"] or 0, line["jobs_cleared"] or 0)
            assert all(row["found"] for visit in line["visits"] for row in visit["rows"])
        seen = scans(warehouse, rows, vehicle, code.split(":")[0], code)
        assert any(each["code_is"] == "present" for each in seen)
        assert all(row["found"] for each in seen for row in each["rows"])
    assert all(file["state"] == "as it was loaded" for file in rows.files())


def test_a_file_is_read_again_under_the_name_it_came_with(dealer) -> None:
    with reading(dealer) as warehouse:
        files = SourceFiles(dealer, load_settings(dealer.settings_file), warehouse)
        [first] = [file for file in files.files.values() if file.name == "scans/scans.csv"]
        held = files.elsewhere("scans", [(first.file_id, 2), (first.file_id, 99)])
    assert held == {(first.file_id, 2): [(first.file_id, 2)], (first.file_id, 99): []}
