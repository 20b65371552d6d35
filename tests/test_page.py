"""The page: it shows what the tables hold, treats foreign text as text, and lets no other script run."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from datetime import date
from functools import cache
from html.parser import HTMLParser

import polars as pl
import pytest

from analysis.charts import page, wording
from analysis.charts.aside import MOST_LINES, asides
from analysis.charts.tickets import tickets
from analysis.texts import faults, findings, notes, words, work
from analysis.texts import page as frame
from analysis.texts.manner import Manner
from tests.sample_report import empty, prepared, sample


class Reader(HTMLParser):
    """Reads a page the way a browser does: tags, attributes, shown text, script texts."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.shown = ""
        self.scripts: list[tuple[bool, str]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs
        if tag == "script":
            self.scripts.append((dict(attrs).get("type") == "application/json", ""))

    def handle_data(self, data: str) -> None:
        if self.lasttag == "script" and self.cdata_elem == "script":
            self.scripts[-1] = (self.scripts[-1][0], self.scripts[-1][1] + data)
        elif self.cdata_elem is None:
            self.shown += data


@cache
def drawn(kind: str = "sample") -> str:
    """A page, drawn once for all tests that look at it."""
    return page(*{"sample": sample, "empty": empty}[kind]())


def charts_of(text: str) -> dict[str, dict[str, object]]:
    """The specifications inside the page."""
    found: dict[str, dict[str, object]] = json.loads(next(body for data, body in Reader(text).scripts if data))
    return found


def test_the_same_tables_give_the_same_page_whatever_the_order_of_rows():
    tables, run = sample()
    shuffled = {name: table.sample(fraction=1, shuffle=True, seed=3) for name, table in tables.items()}
    assert page(tables, run) == drawn() == page(shuffled, run)


def test_the_parts_of_the_sheet_are_there_in_order():
    heads = re.findall(r"<h2 id=[^>]*>(.*?)</h2>", drawn())
    assert heads == [
        "Before you start", "What changed", "Try first",
        "Knock-on families", "What each part cleared", "How far to trust this", "Set aside", "Notes of the run",
    ]  # fmt: skip
    assert list(charts_of(drawn())) == ["costs", "map", "parts", "trend", "trust"]


def test_the_headline_counts_the_cars_of_the_table():
    table = sample()[0]["shortlist"].filter(pl.col("rank") == 1)
    fixes = table.filter(pl.col("action").is_in(["replace", "repair"]))
    wanted = [
        fixes["cheap"].sum(), (~fixes["cheap"]).sum(), (table["action"] == "recheck").sum(),
        (table["action"] == "specialist").sum(),
    ]  # fmt: skip
    assert [int(number) for number in re.findall(r"<dd>(\d+)</dd></div>", drawn().split("<main>")[0])] == wanted
    assert sum(wanted) == table.height
    headline = " ".join(Reader(re.search(r"<h1>.*?</h1>", drawn(), re.DOTALL)[0]).shown.split())  # type: ignore[index]
    assert headline == f"{table.height} cars to look at. On {wanted[0]} the first thing to try is cheap."


def test_the_headline_of_few_cars_counts_them_as_one_would_say_it():
    said = [
        f"{frame.to_look_at(cars)} {frame.cheap_ones(cars, cheap)}" for cars, cheap in ((1, 1), (1, 0), (2, 2), (2, 0))
    ]
    assert said == [
        "1 car to look at. Its first try is cheap.",
        "1 car to look at. Its first try is not cheap.",
        "2 cars to look at. On all 2 the first thing to try is cheap.",
        "2 cars to look at. On none is the first thing to try cheap.",
    ]


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
    assert text.count("Check, then replace battery") == len(pays) + firsts, "a first try stands in the table too"
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
    assert drawn().count("<details><summary>The same as a table</summary>") == 5
    points = {row["point"] for row in next(iter(charts_of(drawn())["costs"]["datasets"].values())) if "point" in row}  # type: ignore[attr-defined]
    assert points <= set(re.findall(r'data-point="([^"]+)"', drawn()))


def test_only_the_pages_own_scripts_may_run_and_nothing_may_be_fetched():
    reader = Reader(drawn())
    policy = next(value for name, value in reader.attributes if name == "content" and "default-src" in (value or ""))
    rules = dict(rule.split(" ", 1) for rule in (policy or "").split("; "))
    hashes = {
        f"'sha256-{base64.b64encode(hashlib.sha256(body.encode()).digest()).decode()}'"
        for data, body in reader.scripts if not data
    }  # fmt: skip
    assert rules["default-src"] == "'none'"
    assert set(rules["script-src"].split()) == hashes
    assert len(hashes) == 2
    assert {value for name, value in reader.attributes if name in ("src", "href")} <= {
        "#week", "#try", "#families", "#parts", "#trust", "#aside", "#notes",
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
        "No family yet: no two codes come together often enough to say more than chance would.",
        "No job with a single part has a known outcome yet.",
    ):
        assert sentence in shown
    assert len(drawn("empty")) < 100_000, "without charts the drawing engine is left out"


def test_what_changed_is_told_as_the_tables_hold_it():
    section = re.search(r'<section id="week".*?</section>', drawn(), re.DOTALL)[0]  # type: ignore[index]
    shown = " ".join(Reader(section.replace("</", " </")).shown.split())
    assert "Against the report of week 2026-W47." in shown
    for row in sample()[0]["car_changes"].to_dicts():
        assert f"{row['vehicle']} {row['first_try']}" in shown or row["change"] == "off"
    assert "K-1011 record, erase, drive, scan again (before: replace boost hose)" in shown
    assert "1 off the list K-0998" in shown
    for told in ("new ECM:P0562 System voltage low: 5 cars",
                 "growing ABS:C0031 Wheel speed sensor front left: 12 cars, 9 before; came: S-1, S-2, S-3",
                  "fading ECM:P0299 Boost pressure too low: 7 cars, 8 before", "vanished ECM:P0441 4 cars before",
                  "steady 4 families"):  # fmt: skip
        assert told in shown
    assert "There is no earlier report to compare with." in Reader(drawn("empty")).shown


def test_every_car_on_the_list_has_its_story_and_every_family_its_cars():
    text = drawn()
    assert text.count('<table class="story">') == text.count('<article class="ticket')
    tables = sample()[0]
    story = re.search(r'aria-label="Story of (K-\d+)"><table class="story">(.*?)</table>', text, re.DOTALL)
    assert story is not None
    seen = tables["seen"].filter(pl.col("vehicle") == story[1])
    assert story[2].count("●<span") == seen.height
    for family, cars in tables["family_cars"].partition_by("family", as_dict=True).items():
        listed = re.search(rf'aria-label="Cars of {family[0]}">(.*?)</table>', text, re.DOTALL)[1]  # type: ignore[index]
        assert set(re.findall(r'<th scope="row">(S-\d+)', listed)) == set(cars["vehicle"])


def test_each_ticket_leads_to_its_job_sheet_where_there_is_one():
    tables, run = sample()
    text = page(tables, run, {"K-1004": "K-1004", "K-1011": "odd-1a2b3c4d"})
    assert re.findall(r'href="(jobsheets/[^"]*)"', text) == [
        f"jobsheets/{name}.{kind}" for name in re.findall(r'<h3 id="car-\d+">(K-10(?:04|11))</h3>', text)
        for name in [{"K-1004": "K-1004", "K-1011": "odd-1a2b3c4d"}[name]] for kind in ("html", "pdf")
    ]  # fmt: skip
    assert text.count("jobsheets/") == 4


def test_a_bare_run_record_is_enough():
    tables, _ = empty()
    assert "Nothing to note." in page(tables, {"week": "2026-W48", "as_of": "2026-11-23"})


def test_refused_files_and_notes_of_the_run_are_told():
    shown = Reader(drawn()).shown
    assert "the header lacks scanned_at; it has time, code. The file was not loaded." in shown
    assert "K-1011: no set of known parts explains HVAC:B10AF@aldane; look at it by hand" in shown


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
            row("hand over", "specialist", 1.0, 30000), row("dear", "replace", 0.9, 20000),
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
        "Refused": MOST_LINES + 3, "Unread": 1, "Unproven": 3, "Looked past": 2,
    }  # fmt: skip
    assert heaps["Unproven"].lines == [(2, "M", "M:2"), (1, "M", "M:1")]
    assert heaps["Looked past"].lines == [("free", "M:0", "towbar"), ("gone", "M:9", "towbar")]
    assert (len(heaps["Refused"].lines), heaps["Refused"].more) == (MOST_LINES, 3)


@pytest.mark.parametrize(
    ("shown", "wanted"),
    [
        (words.percent(0.845), "84%"),
        (words.percent(None), "–"),
        (words.span(0.1, 0.256), "10 to 26%"),
        (words.span(0.3, 0.3), ""),
        (words.span(None, 0.3), ""),
        (Manner("EUR").money(1234.5), "€1,234.50"),
        (Manner("GBP").money(60.0), "£60"),
        (Manner("SEK").money(60.0), "60 SEK"),
        (Manner("EUR").money(None), "–"),
        (Manner("EUR", "mi").distance(40), "25\N{NO-BREAK SPACE}mi"),
        (Manner("EUR", "mi").distance(1.609344), "1\N{NO-BREAK SPACE}mi"),
        (Manner("EUR").distance(1040.2), "1,041\N{NO-BREAK SPACE}km"),
        (Manner(dates="day first").day("2026-11-03"), "03.11.2026"),
        (Manner(dates="month first").day(date(2026, 11, 3)), "11/03/2026"),
        (Manner.of({"currency": "GBP", "date_style": "day first"}).day(None), "–"),
        (Manner.of({"currency": "GBP"}).money(2.5), "£2.50"),
        (Manner.of({}).day("2026-11-03"), "2026-11-03"),
        (words.number(12.345), "12.3"),
        (words.number(None), "–"),
        (words.p_value(0.0731), "p 0.073"),
        (words.p_value(1e-4), "p 0.0001"),
        (words.p_value(4.3e-32), "p below 0.0001"),
        (words.counted(1, "car", "cars"), "1 car"),
        (words.counted(2000, "car", "cars"), "2,000 cars"),
        (words.by_chance(0.73), "73 times in 100"),
        (words.by_chance(0.0026), "3 times in 1,000"),
        (words.by_chance(0.0004), "4 times in 10,000"),
        (words.by_chance(1e-9), "fewer than 2 times in 10,000"),
        (words.taking(1), "1 minute"),
        (words.taking(7.5), "7.5 minutes"),
        (words.enumerated([]), ""),
        (words.enumerated(["V1"]), "V1"),
        (words.enumerated(["V1", "V2", "V3"]), "V1, V2 and V3"),
        (
            findings.tested(5336, 1, 0, 1),
            "5,336 pairs of codes were common enough to be tested on 1 car; confirmed: 0, likely: 1.",
        ),
        (findings.merged(1, "other"), "1 car of a model line with few cars was compared as one line, 'other'."),
        (findings.exploratory(1, 150), "Only 1 visit is known: take the rules as a first hint until there are 150."),
        (
            findings.by_chance(20, 0.3, 0),
            "In 20 shuffled copies of these cars, where nothing belongs together, 0.3 pairs were listed on average, "
            "and no copy showed a confirmed one.",
        ),
        (faults.most_jobs(1, 1200, two=False), "The line with the most jobs; part_results.csv holds all 1,200."),
        (
            notes.handed_over("V1", specialist="€300", part="alternator", price="€296", left=0.2, total="€356"),
            "V1: handing over at once costs €300; trying the alternator first costs €296 and leaves something for the "
            "specialist in 20% of such cars, which makes about €356 on average.",
        ),
        (
            work.recheck_caution(grave=True),
            "A brake or steering warning is on: prove brakes and steering first, then test-drive on private ground "
            "only, not on a public road. Keep the record of every module before erasing. No drive on the road with an "
            "airbag warning.",
        ),
        (work.work("replace", "boost hose", "left"), "Replace boost hose, left"),
        (work.work("repair", "door loom", None), "Repair door loom"),
        (work.work("recheck", None, None), "Record, erase, drive, scan again"),
        (work.work("specialist", None, None), "Hand over to a specialist"),
        (
            work.ground("repairs", 4, 3),
            "Rests on own repairs: 3 of 4 jobs with this part alone cleared the codes it shared.",
        ),
        (work.ground("code", 0, 0), "Rests on what the code itself names: no job with this part alone yet."),
        (work.ground(None, 1, 1), "1 of 1 job with this part alone cleared the codes it shared."),
        (wording.others("a;b;c;d", "b", "d;a"), "c"),
        (wording.others("a;b", None, None), "a;b"),
    ],
)  # fmt: skip
def test_numbers_and_codes_in_words(shown: str, wanted: str):
    assert shown == wanted


def test_a_code_without_wording_shows_its_key_alone():
    assert wording.codes("A:1;B:2", {"B:2": "words"}) == [wording.Code("A:1", ""), wording.Code("B:2", "words")]
    assert wording.codes(None, {}) == []
