"""The page as a whole: its parts in order, its headline, no other script that runs, and no car judged."""

from __future__ import annotations

import base64
import gzip
import hashlib
import re

import polars as pl

from analysis.charts import page
from analysis.texts import list_text, names
from analysis.texts import page_text as frame
from pipelines.report.outgoing_tables import TABLES
from tests.support.page_reader import Reader, charts, charts_of, drawn, sheets
from tests.support.sample_report import empty, sample


def test_the_same_tables_give_the_same_page_whatever_the_order_of_rows():
    tables, run = sample()
    shuffled = {name: table.sample(fraction=1, shuffle=True, seed=3) for name, table in tables.items()}
    assert page(shuffled, run) == drawn() == page(tables, run, drawn=charts())


def test_the_parts_of_the_sheet_are_there_in_order():
    assert "Week 2026-W48 on one sheet, as of 2026-11-23" in drawn(), "the paper stands before all else"
    heads = re.findall(r"<h2 id=[^>]*>(.*?)</h2>", drawn())
    assert heads == [
        "This week, car by car", "Which codes one part clears", "What changed", "Leave these alone?",
        "How far to trust this", "Promised and done", "Not counted", "Notes of the run",
    ]  # fmt: skip
    assert list(charts_of(drawn())) == ["clusters", "costs", "ledger", "map", "trend", "trust"]


def test_the_headline_counts_the_cars_of_the_table_and_says_how_sure():
    table = sample()[0]["shortlist"].filter(pl.col("rank") == 1)
    cheap = table["cheap"].sum()
    headline = " ".join(Reader(re.search(r"<h1>.*?</h1>", drawn(), re.DOTALL)[0]).shown.split())  # type: ignore[index]
    handed = table.filter(action="specialist")["vehicle"].to_list()
    assert f"Hand over: {len(handed)} cars" in Reader(drawn()).shown
    assert frame.handed_over(handed[:2]) == f"Hand over: {handed[0]} and {handed[1]}"
    assert headline == f"{table.height} cars to look at. On {cheap} the first step is cheap (up to €60)."
    # Green rows and the column cheap of the table say the same.
    assert drawn().count('<tr class="car win">') == cheap
    # 38 of 61 in the sample's backtest.
    assert "How sure: of past visits that one part ended, it was named first in 62%." in Reader(drawn()).shown


def test_the_headline_of_few_cars_counts_them_as_one_would_say_it():
    said = [
        f"{frame.to_look_at(cars)} {frame.cheap_ones(cars, cheap, '')}"
        for cars, cheap in ((1, 1), (1, 0), (2, 2), (2, 0))
    ]
    assert said == [
        "1 car to look at. Its first step is cheap.",
        "1 car to look at. Its first step is not cheap.",
        "2 cars to look at. On all 2 the first step is cheap.",
        "2 cars to look at. On none is the first step cheap.",
    ]


def test_only_the_pages_own_scripts_may_run_and_nothing_may_be_fetched():
    reader = Reader(drawn())
    policy = next(value for name, value in reader.attributes if name == "content" and "default-src" in (value or ""))
    rules = dict(rule.split(" ", 1) for rule in (policy or "").split("; "))
    hashes = {
        f"'sha256-{base64.b64encode(hashlib.sha256(body.encode()).digest()).decode()}'"
        for kind, body in reader.scripts if kind in (None, "module")
    }  # fmt: skip
    assert rules["default-src"] == "'none'"
    library = re.search(r'<script type="text/plain" id="library">([^<]*)</script>', drawn())
    assert library is not None
    unpacked = gzip.decompress(base64.b64decode(library[1]))
    hashes.add(f"'sha256-{base64.b64encode(hashlib.sha256(unpacked).digest()).decode()}'")
    assert set(rules["script-src"].split()) == hashes
    assert len(hashes) == 2
    assert {value for name, value in reader.attributes if name in ("src", "href")} <= {
        "#list", "#clusters", "#changed", "#standing", "#trust", "#ledger", "#aside", "#notes", "#orders", "#car-22",
    }  # fmt: skip


def test_the_page_judges_no_car_and_names_what_to_mind():
    for kind in ("sample", "empty"):
        shown = Reader(drawn(kind)).shown.lower()
        assert not re.findall(r"\bsafe|roadworthy|\bpass(es)?\b", shown)
        assert "record every module before erasing anything" in shown
        for subject in ("brakes", "airbags", "steering", "fuel", "high voltage", "raised car", "local rules"):
            assert subject in shown


def test_a_young_dealer_gets_plain_sentences_in_place_of_charts():
    assert charts_of(drawn("empty")) == {}
    shown = Reader(drawn("empty")).shown
    for sentence in (
        "No car on the list this week.",
        "There is nothing to try this week.",
        "No group yet: no two codes come together often enough to say more than chance would.",
        "No job with a single part has a known outcome yet.",
    ):
        assert sentence in shown
    assert len(drawn("empty")) < 100_000, "without charts the drawing engine is left out"


def test_a_bare_run_record_is_enough():
    tables, _ = empty()
    assert "Nothing to note." in page(tables, {"week": "2026-W48", "as_of": "2026-11-23"})


def test_refused_files_and_notes_of_the_run_are_told():
    shown = Reader(drawn()).shown
    assert "the header lacks scanned_at; it has time, code. The file was not loaded." in shown
    assert "unknown module" not in shown
    assert "1 control unit has a name that is not known yet" in shown
    assert "module,name,also_called LIFT,," in " ".join(shown.split())
    assert "K-1011: no set of known parts explains HVAC:B10AF@aldane; look at it by hand" in shown


def test_the_three_notes_that_change_the_week_stand_first_and_a_method_stands_apart():
    tables, run = sample()
    plain = [f"note {place}" for place in range(5)]
    weighty = "battery from Depot: codes returned after 6 of 8 jobs, against 1 of 9 with parts from elsewhere."
    method = "Codes came back sooner after erasing alone. How this is worked out: log-rank 9.1."
    refused = "modules.csv was not used: the header lacks module; it has name"
    shown = page(tables, run | {"warnings": [*plain, method, weighty, refused]}, drawn=charts())
    section = re.search(r'<section id="notes".*?</section>', shown, re.DOTALL)[0]  # type: ignore[index]
    first, rest = section.split("<details", 1)
    assert re.findall(r"<li>(.*?)</li>", first) == [refused, weighty, "note 0"]
    assert "5 more notes" not in first
    assert section.count("og-rank 9.1.") == 1
    assert rest.index("Codes came back sooner") < rest.index("How this is worked out") < rest.index("Log-rank 9.1.")


def test_one_word_for_each_thing_on_page_sheets_and_workbook():
    read = [Reader(drawn()).shown, *(Reader(one.decode()).shown for name, one in sheets().items() if "html" in name)]
    named = [*names.SHEETS.values(), *names.COLUMNS.values(), *names.COUNTS.values(), *list_text.SAVE_HEADS]
    meant = [column.doc for table in TABLES.values() for column in table.columns]
    old = re.compile(r"look(?:ed|s)? past|reckon|set aside|\bfamil(?:y|ies)\b|first tr(?:y|ies)", re.IGNORECASE)
    assert [found[0] for text in (*read, *named, *meant) for found in old.finditer(text)] == []
    assert names.LEAVE_ALONE in read[0]
    assert names.WORKED_OUT in read[0]


def test_the_list_says_above_the_cars_of_each_kind_what_is_done_next():
    # A place in the list, by the first row alone: cheap and dearer tries, drives, hand-overs.
    first = sample()[0]["shortlist"].filter(pl.col("rank") == 1)
    kind = {"recheck": "Drive and scan again", "specialist": "Hand over", "leave": "Nothing to do"}
    tries = {True: "Cheap try first", False: "Dearer try"}
    wanted = {row["vehicle"]: kind.get(row["action"], tries[row["cheap"]]) for row in first.to_dicts()}
    said = re.findall(r'<tbody class="group"[^>]*><tr><th[^>]*><b>(.*?)</b>|<tbody[^>]*data-vehicle="(.*?)"', drawn())
    # The sample has a price for each of its tries.
    found, group = {}, ""
    for head, vehicle in said:
        group = head or group
        if vehicle:
            found[vehicle] = group
    assert found == wanted
    heads = [head for head, _ in said if head]
    assert heads == ["Cheap try first", "Dearer try", "Drive and scan again", "Hand over"]
    assert re.findall(r'<tr class="next" [^>]*><th[^>]*>(.*?)</th>', drawn()) == heads, "on paper too"


def test_a_try_of_unknown_price_is_called_neither_cheap_nor_dear():
    tables, run = sample()
    unpriced = pl.when(pl.col("action") == "replace").then(None).otherwise(pl.col("total_cost"))
    listed = tables["shortlist"].with_columns(total_cost=unpriced, cheap=pl.col("cheap") & unpriced.is_not_null())
    text = page(tables | {"shortlist": listed}, run, drawn=charts())
    cars = listed.filter((pl.col("rank") == 1) & pl.col("total_cost").is_null()).height
    [told] = re.findall(r"<b>Try, price not known</b> <i>(.*?)</i>", text)
    assert told == f"{cars} cars"
    assert f"No price is known for {cars} cars: the sums of money above leave them out." in text


def test_where_no_car_was_scanned_the_page_says_so_and_names_the_cars():
    tables, run = empty()
    cars = pl.DataFrame({"vehicle": ["A1", "A2"], "scanned": [False, False], "waiting": [False, False]})
    stock = cars.with_columns(asking_cents=pl.lit(None, pl.Int64))
    shown = Reader(page(tables | {"cars": stock}, run)).shown
    assert "No scan of any car in stock was read yet: drop scans, and the list stands here." in shown
    assert "2 cars are not listed: why" in shown
    assert "A2 no scan of it has been read" in shown


def test_days_of_scans_of_one_age_are_told_once():
    assert list_text.scans_old(1, 1, 41, 41) == "the scan is 41 days old, scan again;"
    assert list_text.scans_old(3, 3, 9, 9) == "scans are 9 days old, scan again;"
    assert list_text.scans_old(3, 4, 9, 12) == "3 of 4 scans are 9 to 12 days old, scan again;"
