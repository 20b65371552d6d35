"""The job sheets: one a car, with every code and step, on one page, in a file whose name cannot lead astray."""

from __future__ import annotations

import io
import math
import re
from dataclasses import replace

import polars as pl
import pytest
from pypdf import PdfReader

from analysis.charts.job_page import BLANK_LINES, Job, Try, jobs
from analysis.charts.tickets import first_cars, tickets
from analysis.texts.action_text import not_proven, once_again
from analysis.texts.names import REPAIRS
from pipelines.file_names import sheet_names
from pipelines.reading.layouts import LAYOUTS
from pipelines.report import job_sheet, job_sheet_pdf
from pipelines.report.job_sheet import TOGETHER, job_sheets, repairs_file
from pipelines.report.job_sheet_pdf import _SIZES as SIZES
from pipelines.report.job_sheet_pdf import job_pdf
from tests.support.page_reader import Reader, sheets
from tests.support.sample_report import own_minutes, prepared, sample

TABLES, RUN = sample()


def alone(vehicle: str, **changed: pl.DataFrame) -> dict[str, bytes]:
    """One car's sheets, of the sample with some tables changed."""
    tables = TABLES | changed
    made = job_sheets(tables | {"shortlist": tables["shortlist"].filter(pl.col("vehicle") == vehicle)}, RUN)
    return {name: sheet for name, sheet in made.items() if name != TOGETHER}


def text_of(pdf: bytes) -> str:
    """All text of a PDF, spaces and line ends taken out."""
    return re.sub(r"\s+", "", "".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages))


@pytest.mark.slow
def test_every_car_on_the_list_has_a_page_and_a_pdf_of_two_pages_at_most_and_the_same_bytes_again():
    cars = TABLES["shortlist"]["vehicle"].unique()
    assert set(sheets()) == {f"jobsheets/{car}.{kind}" for car in cars for kind in ("html", "pdf")} | {TOGETHER}
    assert {len(PdfReader(io.BytesIO(sheet)).pages) for name, sheet in sheets().items() if name.endswith("pdf")} <= {
        1,
        2,
    }
    again = alone("K-1004") | alone("K-1011")
    assert len(again) == 4
    assert again == {name: sheets()[name] for name in again}


def test_all_sheets_stand_on_one_page_in_the_order_of_the_list(monkeypatch: pytest.MonkeyPatch):
    order = first_cars(sample()[0]["shortlist"], 1_000)
    together = sheets()[TOGETHER].decode()
    assert re.findall(r'<article class="sheet" aria-label="(.*?)">', together) == order
    for vehicle in order:
        own = sheets()[f"jobsheets/{vehicle}.html"].decode()
        sheet = own[own.index("<header>") : own.index("</main>")]
        assert sheet.strip() in together, "each car's sheet as it stands by itself"
    assert f"The job sheets of {len(order)} cars" in together
    monkeypatch.setattr("pipelines.report.job_sheet.MOST_TOGETHER", 2)
    few = job_sheets(*sample())[TOGETHER].decode()
    assert re.findall(r'<article class="sheet" aria-label="(.*?)">', few) == order[:2]
    assert f"The job sheets of the first 2 of {len(order)} cars" in few


def test_of_very_many_cars_the_first_on_the_list_have_a_pdf_and_all_a_page(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(job_sheet, "MOST_PAPERS", 2)
    made, order = job_sheets(TABLES, RUN), [one.vehicle for one in tickets(TABLES["shortlist"], TABLES["open_codes"])]
    names = {vehicle: f"jobsheets/{name}" for vehicle, name in sheet_names(order).items()}
    assert {name for name in made if name.endswith(".pdf")} == {f"{names[vehicle]}.pdf" for vehicle in order[:2]}
    assert {name for name in made if name.endswith(".html")} == {TOGETHER, *(f"{name}.html" for name in names.values())}


@pytest.mark.parametrize("kind", ["html", "pdf"])
def test_a_sheet_holds_the_codes_the_steps_and_the_cautions_of_the_tables(kind: str):
    for job in jobs(TABLES, RUN["settings"]):  # type: ignore[arg-type]
        sheet = sheets()[f"jobsheets/{job.vehicle}.{kind}"]
        shown = text_of(sheet) if kind == "pdf" else re.sub(r"\s+", "", Reader(sheet.decode()).shown)
        found = TABLES["open_codes"].filter(pl.col("vehicle") == job.vehicle)
        rows = TABLES["shortlist"].filter(pl.col("vehicle") == job.vehicle).sort("rank").to_dicts()
        wanted = [*found["code"], *found["background"].drop_nulls(), "before anything is erased"]
        for row in rows:
            wanted += [row["part"] or "", row["caution"] or ""]
            if row["action"] in ("replace", "repair"):
                told = re.fullmatch(
                    r"Checking first is cheaper: about (\d+ minutes?); buy .*? faulty\. (.*)", row["check_first"]
                )
                check = (
                    f"Checked, about {told[1]}, buy only if faulty: {told[2]}"
                    if told
                    else f"Checked: {row['check_first']}"
                )
                wanted += [
                    check,
                    "Driven at least 40 km, any trips count",
                    f"{row['chance'] * 100:.0f}%",
                ]
        assert not [words for words in wanted if re.sub(r"\s+", "", words) not in shown]


def test_every_box_to_tick_stands_on_the_pdf_and_the_blank_lines_hold_what_is_known():
    [job] = [job for job in jobs(TABLES, RUN["settings"]) if job.vehicle == "K-1004"]  # type: ignore[arg-type]
    shown = text_of(sheets()["jobsheets/K-1004.pdf"])
    # One for the record before all, one for the scan after it, one for each code that was found.
    assert shown.count("☐") == 2 + len(job.codes) + sum(len(one.boxes) for one in job.tries)
    assert "ineachrowvehicleK-1004andodometer_unitkm" in shown
    assert BLANK_LINES >= 4


def test_signs_of_markup_and_very_long_names_are_plain_text_on_the_pdf():
    odd = "<b>&amp;Żółć " + "W" * 80
    named = [TABLES[name].with_columns(vehicle=pl.lit(odd)) for name in ("shortlist", "open_codes")]
    tables = TABLES | dict(zip(("shortlist", "open_codes"), named, strict=True))
    [pdf] = [sheet for name, sheet in job_sheets(tables, RUN).items() if name.endswith("pdf")]
    assert text_of(pdf).startswith(odd.replace(" ", ""))


ENDING = ["Codes erased", "Driven at least 40\N{NO-BREAK SPACE}km, any trips count", "Scanned again, every module"]


def tries_named(begins: str) -> list[Try]:
    """The tries of the sample whose title begins so."""
    return [one for job in jobs(TABLES, RUN["settings"]) for one in job.tries if one.title.startswith(begins)]  # type: ignore[arg-type]


def test_the_boxes_stand_in_the_order_of_the_work():
    first = tries_named("Replace")[0]
    assert first.boxes[0].startswith("Checked: ")
    assert first.boxes[1].startswith("Found sound: fit nothing, go to step ")
    assert first.boxes[2:] == [f"Found faulty: {first.title[0].lower()}{first.title[1:]}", *ENDING]
    assert jobs(TABLES, {"odometer_unit": "mi", "road_test_km": 40})[0].tries


def test_where_the_check_is_cheaper_the_part_is_fitted_only_if_it_is_faulty():
    checked = tries_named("Check, then replace battery")
    assert checked
    for one in checked:
        place = int(one.boxes[1][-1])
        assert one.boxes == [
            "Checked, about 10 minutes, buy only if faulty: "
            "Rest voltage under 12.2 V after a night, or under 9.6 V while cranking.",
            f"Found sound: fit nothing, go to step {place}",
            "Found faulty: replace battery",
            *ENDING,
        ]


ROW: dict[str, object] = {"vehicle": "A", "action": "replace", "chance": 0.5, "total_cost": 50, "clears": ""}
LEFT_OPEN = [
    {"rank": 1, "part": "coil", "clears": "ECM:P0302"},
    {"rank": 2, "part": "plug", "clears": "ECM:P0302", "check_first": "Checking first is cheaper: about 5 minutes"},
    {"rank": 3, "part": "loom", "clears": "ECM:P0302;SRS:B0091", "action": "repair", "part_cost": 700},
    {"rank": 4, "action": "specialist", "clears": "ECM:P0302;SRS:B0091;TCM:U0415"},
    {"rank": 5, "action": "leave", "leaves": "IPC:U0184"},
]
RULE = "Airbag or belt code open (SRS:B0091): leave it. No drive on the road while a warning of these is on (airbag)."


def made_of(rows: list[dict[str, object]], codes: list[str], notes: tuple[str, ...] = ()) -> Job:
    """The sheet of one car with these lines and open codes."""
    present: list[dict[str, object]] = [
        {"vehicle": "A", "module": code.partition(":")[0], "code": code, "status": "active"} for code in codes
    ]
    told = {"shortlist": prepared("shortlist", [ROW | row for row in rows]),
            "open_codes": prepared("open_codes", present)}  # fmt: skip
    [job] = jobs(told, {}, notes)
    return job


def test_stop_stands_only_where_nothing_is_left_and_else_the_line_to_go_on_with():
    codes = ["ECM:P0302", "SRS:B0091", "TCM:U0415", "IPC:U0184", "BCM:B1000"]
    job = made_of(LEFT_OPEN, codes)
    stop = "None of the codes to clear is left: stop."
    # Each code has the next line that is for it: P0302 lines 1 to 4, B0091 lines 3 and 4, U0415 line 4 alone.
    assert [one.then for one in job.tries[:2]] == [
        [
            stop,
            "Still there, ECM:P0302: go to step 2.",
            "Still there, SRS:B0091: go to step 3.",
            "Still there, TCM:U0415: go to step 4.",
        ],
        [stop, "Still there, ECM:P0302, SRS:B0091: go to step 3.", "Still there, TCM:U0415: go to step 4."],
    ]
    assert job.tries[2].then == [stop, "One is still there: go to step 4."]
    assert job.tries[3].then == []
    assert job.stored == "BCM:B1000", "no line speaks of it, and it is not left alone"
    assert job.tries[1].boxes[1:3] == ["Found sound: fit nothing, go to step 3", "Found faulty: replace plug"]
    assert job.fetch[-1] == "only if it comes to that: material for loom, 7"
    whole = made_of([{"rank": 1, "part": "coil", "clears": "ECM:P0302"},
                     {"rank": 2, "action": "specialist", "clears": "ECM:P0302"}], ["ECM:P0302"])  # fmt: skip
    assert whole.tries[0].then == [stop, "One is still there: go to step 2."]
    assert whole.stored == ""


def test_every_step_that_somebody_is_sent_to_stands_on_the_sheet():
    parts = ["coil", "plug", "loom", "relay", "pump", "hose"]
    rows = [{"rank": rank, "part": part, "clears": f"ECM:P030{rank}"} for rank, part in enumerate(parts, 1)]
    clears = ";".join(str(row["clears"]) for row in rows)
    job = made_of([*rows, {"rank": 7, "action": "specialist", "clears": clears}], clears.split(";"))
    sent = {int(step) for one in job.tries for text in one.then for step in re.findall(r"go to step (\d+)", text)}
    assert sent == {2, 3, 4, 5, 6, 7}
    assert len(job.tries) == 7


def test_codes_left_alone_are_no_step_behind_handing_over():
    job = made_of(LEFT_OPEN, ["ECM:P0302", "IPC:U0184"])
    assert [one.title for one in job.tries][-1] == "Hand over to a specialist"
    assert job.left == "Leave alone, if you agree: no fault seems to set: IPC:U0184."
    only = made_of([{"rank": 1, "action": "leave", "leaves": "IPC:U0184", "part": None}], ["IPC:U0184"])
    assert (len(only.tries), only.left) == (1, "")


def test_a_part_found_sound_leads_past_a_second_new_one_of_it():
    again = once_again("replace", "Measure it.")
    rows = [
        {"rank": 1, "part": "plug", "clears": "ECM:P0302", "check_first": "Measure it."},
        {"rank": 2, "part": "plug", "clears": "ECM:P0302", "check_first": again},
        {"rank": 3, "part": "coil", "clears": "ECM:P0302", "check_first": "Swap it."},
        {"rank": 4, "action": "specialist", "clears": "ECM:P0302"},
    ]
    job = made_of(rows, ["ECM:P0302"])
    assert job.tries[0].boxes[1] == "Found sound: fit nothing, go to step 3", "nothing was fitted that could be bad"
    assert job.tries[0].then[-1] == "One is still there: go to step 2."
    assert job.tries[1].before == ["Only if still there, and if step 1 was fitted: ECM:P0302."]
    assert job.tries[1].boxes[0] == f"Checked: {again}"
    # Where it was fitted, one check of two parts sends on to what none of them is.
    shared = made_of(
        [rows[0], rows[2] | {"rank": 2, "check_first": "Measure it."}, rows[3] | {"rank": 3}], ["ECM:P0302"]
    )
    assert shared.tries[0].boxes[1] == (
        "Found sound: fit nothing, go to the step of what the check found faulty (2); if none is, to step 3"
    )


@pytest.mark.parametrize(("action", "done"), [("replace", "fitted"), ("repair", "repaired")])
def test_what_was_not_fitted_is_not_sent_to_be_exchanged(action: str, done: str):
    # The switch is found sound at step 1, so that nothing new of it can be bad: neither what the spring's check finds
    # at step 2 nor a code that is still there after it leads to step 3, which looks at a new switch.
    mine: dict[str, object] = {"part": "switch", "action": action, "clears": "ECM:P0504", "check_first": "Press it."}
    job = made_of(
        [
            mine | {"rank": 1},
            {"rank": 2, "part": "spring", "clears": "SRS:B0001", "check_first": "Turn it."},
            mine | {"rank": 3, "check_first": once_again(action, "Press it.")},
            {"rank": 4, "action": "specialist", "clears": "ECM:P0504;SRS:B0001"},
        ],
        ["ECM:P0504", "SRS:B0001"],
    )
    on = f"to step 3 if step 1 was {done}, else to step 4"
    assert job.tries[0].boxes[1] == "Found sound: fit nothing, go to step 2"
    assert job.tries[0].then[1:] == [
        "Still there, SRS:B0001: go to step 2.",
        "Still there, ECM:P0504: go to step 3.",
    ]
    assert job.tries[1].boxes[1] == f"Found sound: fit nothing, go {on}"
    assert f"Still there, ECM:P0504: go {on}." in job.tries[1].then
    assert job.tries[2].before[0] == f"Only if still there, and if step 1 was {done}: ECM:P0504."
    assert ("exchanged" in " ".join(job.tries[2].boxes)) == (action == "replace"), "a repair has no new one"


def test_what_was_fitted_is_not_sent_to_be_fitted_without_its_check():
    rows = [
        {"rank": 1, "part": "plug", "clears": "ECM:P0302", "check_first": "Measure it."},
        {"rank": 2, "part": "plug", "clears": "ECM:P0302"},
        {"rank": 3, "action": "specialist", "clears": "ECM:P0302"},
    ]
    job = made_of(rows, ["ECM:P0302"])
    assert job.tries[0].boxes[1] == "Found sound: fit nothing, go to step 2"
    assert job.tries[0].then[-1] == "One is still there: go to step 3."


def test_a_car_that_waits_says_one_distance():
    waits = {"rank": 1, "action": "recheck", "clears": "ECM:P0302", "check_first": not_proven("6 km", "10 km")}
    job = made_of([waits, {"rank": 2, "action": "specialist", "clears": "ECM:P0302"}], ["IPC:U0184"])
    told = " ".join([one for step in job.tries for one in (step.title, step.facts, *step.boxes, *step.then)])
    assert set(re.findall(r"(\d+).km", told)) == {"10"}
    assert "erase" not in " ".join(job.tries[0].boxes).lower()


def test_what_the_cars_codes_ask_for_stands_once_and_the_drive_refers_to_it():
    rows = [row | {"caution": f"Mind {row['rank']}. On this car: {RULE}"} for row in LEFT_OPEN]
    job = made_of(rows, ["SRS:B0091"])
    assert job.mind == RULE
    # The step that is to clear the airbag's code sends its reader back to the rule.
    own = "This step is about a system that the caution for this car speaks of: read that first."
    assert [one.caution for one in job.tries] == ["Mind 1.", "Mind 2.", f"Mind 3. {own}", "Mind 4."]
    assert "Driven at least 40\N{NO-BREAK SPACE}km, where the rule above allows it" in job.tries[0].boxes
    assert "Driven at least 40\N{NO-BREAK SPACE}km, any trips count" in made_of(LEFT_OPEN, ["X:1"]).tries[0].boxes


def test_a_car_that_is_handed_over_says_why():
    note = "A: handing over at once costs 300; trying the coil first costs 296."
    only = [{"rank": 1, "action": "specialist", "clears": "ECM:P0302"}]
    assert made_of(only, ["ECM:P0302"], (note, "B: no known part explains X.")).why == [
        "Handing over at once costs 300; trying the coil first costs 296."
    ]
    assert made_of(LEFT_OPEN, ["ECM:P0302"], (note,)).why == []


@pytest.mark.parametrize("kind", ["html", "pdf"])
def test_a_car_without_make_and_model_says_so_on_every_sheet(kind: str):
    bare = TABLES["shortlist"].with_columns(make=pl.lit(None, pl.String), model=pl.lit(None, pl.String))
    sheet = alone("K-1004", shortlist=bare)[f"jobsheets/K-1004.{kind}"]
    shown = text_of(sheet) if kind == "pdf" else re.sub(r"\s+", "", Reader(sheet.decode()).shown)
    assert "Makeandmodelnotknown" in shown


def test_status_and_reason_of_a_code_stand_apart():
    rows = TABLES["open_codes"].filter(pl.col("background").is_not_null() & pl.col("status").is_not_null())
    row = rows.row(0, named=True)
    shown = " ".join(Reader(sheets()[f"jobsheets/{row['vehicle']}.html"].decode()).shown.split())
    assert f"{row['status']} , left alone: {row['background']}" in shown.replace(
        f"{row['status']},", f"{row['status']} ,"
    )


def test_the_table_to_fill_has_words_and_one_line_names_the_columns_of_the_repairs_layout():
    sheet = sheets()["jobsheets/K-1004.html"].decode()
    columns = [column.name for column in LAYOUTS["repairs"].columns]
    mine = [column for column in columns if column not in ("vehicle", "odometer_unit")]
    assert re.findall(r"<th [^>]*>([^<]+)</th>", sheet) == [REPAIRS[column] for column in mine]
    assert f"Its columns in this order: {', '.join(mine)}; in each row vehicle K-1004" in sheet
    assert ",".join(mine) in text_of(sheets()["jobsheets/K-1004.pdf"])


@pytest.mark.parametrize("kind", ["html", "pdf"])
def test_the_words_for_what_was_done_are_those_that_the_repairs_file_takes(kind: str):
    sheet = sheets()[f"jobsheets/K-1011.{kind}"]
    shown = text_of(sheet) if kind == "pdf" else re.sub(r"\s+", "", Reader(sheet.decode()).shown)
    [action] = [column for column in LAYOUTS["repairs"].columns if column.name == "action"]
    assert f"Whatwasdone,oneofthesewords:{','.join(action.values)}." in shown
    assert shown.index("Whatwasdone:") < shown.index("oneofthesewords") < shown.index("Signature")


def test_a_plate_that_is_known_is_printed_and_else_written():
    plates = dict(TABLES["cars"].select("vehicle", "plate").iter_rows())
    for job in jobs(TABLES, RUN["settings"]):  # type: ignore[arg-type]
        assert ("Plate" in job.blanks) == (plates[job.vehicle] is None)
        assert dict(job.known).get("Plate") == plates[job.vehicle]


@pytest.mark.parametrize("kind", ["html", "pdf"])
def test_the_head_holds_what_is_known_of_the_car_and_room_for_the_rest(kind: str):
    known = TABLES["cars"].filter(pl.col("vehicle") == "K-1011").row(0, named=True)
    first = TABLES["shortlist"].filter((pl.col("vehicle") == "K-1011") & (pl.col("rank") == 1)).row(0, named=True)
    sheet = sheets()[f"jobsheets/K-1011.{kind}"]
    shown = text_of(sheet) if kind == "pdf" else re.sub(r"\s+", "", Reader(sheet.decode()).shown)
    mileage = f"{math.ceil(known['odometer']):,}km"
    wanted = [
        "Plate",
        "Mileageatthestart,km",
        "Mileageattheend,km",
        "☐Scannedagain,everymodule,scankept",
        "Bay",
        "Mechanic",
        "Signature",
        f"Mileageknown{mileage}",
        "Year2015",
    ]
    if first["labour_cost"] is not None:
        wanted.append(f"Minutes,firststep{own_minutes(first):.0f}")
    assert not [words for words in wanted if words not in shown]


def test_the_parts_to_fetch_are_those_of_the_tries_with_price_and_supplier_material_too():
    supplied = dict(TABLES["part_suppliers"].iter_rows())
    for job in jobs(TABLES, RUN["settings"]):  # type: ignore[arg-type]
        rows = TABLES["shortlist"].filter(pl.col("vehicle") == job.vehicle)
        wanted = []
        for row in rows.sort("rank").filter(pl.col("action").is_in(["replace", "repair"])).to_dicts():
            part = ", ".join(one for one in (row["part"], row["position"]) if one)
            part = part if row["action"] == "replace" else f"material for {part}"
            told = ", ".join(one for one in (part, f"€{row['part_cost']:g}", supplied.get(row["part"], "")) if one)
            sure = row["rank"] == 1 and not row["check_first"].startswith("Checking first is cheaper")
            wanted.append(
                told.replace(".5", ".50") if sure else f"only if it comes to that: {told.replace('.5', '.50')}"
            )
        assert job.fetch == wanted


@pytest.mark.parametrize("codes", [2, 6, 10, 14, 18, 22, 30, 45])
def test_the_letters_are_the_largest_that_fit_on_one_page(codes: int):
    # Every size laid out in full is the reference; the program tells the size from the heights of the pieces.
    [job] = [job for job in jobs(TABLES, RUN["settings"]) if job.vehicle == "K-1004"]  # type: ignore[arg-type]
    job = replace(job, codes=(job.codes * codes)[:codes])
    fonts_ready = job_pdf(job, RUN, repairs_file())

    def laid_out(size: float) -> tuple[bytes, int]:
        forms = job_sheet_pdf._Forms(job, repairs_file())
        return job_sheet_pdf._laid_out(job_sheet_pdf._blocks(job, RUN, forms, size), job.vehicle)

    tried = [laid_out(size) for size in SIZES]
    fitting = [sheet for sheet, pages in tried if pages == 1] or [laid_out(job_sheet_pdf._SEVERAL)[0]]
    assert text_of(fonts_ready) == text_of(fitting[0])
    assert letters(fonts_ready) == letters(fitting[0])


def letters(pdf: bytes) -> list[bytes]:
    """The sizes of letters of a PDF, in the order in which they are set."""
    return [
        size
        for page in PdfReader(io.BytesIO(pdf)).pages
        for size in re.findall(rb"/F\S+ ([\d.]+) Tf", page.get_contents().get_data())  # type: ignore[union-attr]
    ]


def test_more_than_fits_goes_on_to_another_page():
    many = pl.concat(
        [TABLES["open_codes"].with_columns(code=pl.format("ECM:P{}", pl.int_range(100, 100 + pl.len())))] * 6
    )
    car = many.with_columns(vehicle=pl.lit("K-1004"))
    pdf = alone("K-1004", open_codes=car)["jobsheets/K-1004.pdf"]
    assert len(PdfReader(io.BytesIO(pdf)).pages) > 1


def test_names_of_files_hold_no_path_no_device_and_no_two_alike():
    odd = [
        "../../etc/passwd",
        "K-1",
        "k-1",
        "CON",
        "nul.x",
        "Grün 7",
        "Gr/n 7",
        "..",
        "-x",
        "A.1",
        "x" * 300,
        "x" * 301,
    ]
    names = sheet_names(odd)
    assert names["A.1"] == "A.1"
    assert len({name.casefold() for name in names.values()}) == len(odd)
    for name in names.values():
        assert re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]{0,80}", name)
        assert not re.fullmatch(r"(?i)(con|nul)(\..*)?", name)
    assert sheet_names(["Grün 7"])["Grün 7"] == names["Grün 7"], "the same name whatever other cars there are"
