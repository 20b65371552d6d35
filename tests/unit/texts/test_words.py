"""Numbers, money, days, work and codes in words: each as a reader meets it, letter by letter."""

from __future__ import annotations

from datetime import date

import pytest

from analysis.charts import wording
from analysis.texts import action_text, findings, list_text, notes, page_text, words
from analysis.texts.formatter import Formatter


@pytest.mark.parametrize(
    ("shown", "wanted"),
    [
        (words.percent(0.845), "84%"),
        (words.percent(None), "–"),
        (words.span(0.1, 0.256), "10 to 26%"),
        (words.span(0.3, 0.3), ""),
        (words.span(None, 0.3), ""),
        (Formatter("EUR").money(1234.5), "€1,234.50"),
        (Formatter("GBP").money(60.0), "£60"),
        (Formatter("SEK").money(60.0), "60 SEK"),
        (Formatter("EUR").money(None), "–"),
        (Formatter("EUR", "mi").distance(40), "25\N{NO-BREAK SPACE}mi"),
        (Formatter("EUR", "mi").distance(1.609344), "1\N{NO-BREAK SPACE}mi"),
        (Formatter("EUR").distance(1040.2), "1,041\N{NO-BREAK SPACE}km"),
        (Formatter(dates="day first").day("2026-11-03"), "03.11.2026"),
        (Formatter(dates="month first").day(date(2026, 11, 3)), "11/03/2026"),
        (Formatter.of({"currency": "GBP", "date_style": "day first"}).day(None), "–"),
        (Formatter.of({"currency": "GBP"}).money(2.5), "£2.50"),
        (Formatter.of({}).day("2026-11-03"), "2026-11-03"),
        (words.number(12.345), "12.3"),
        (words.number(2921.4), "2,920"),
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
            "0 pairs of codes belong together for certain as far as can be told, 1 more likely so; 5,336 were common "
            "enough to look at on 1 car.",
        ),
        (findings.merged(1, "other"), "1 car of a model line with few cars was compared as one line, 'other'."),
        (findings.exploratory(1, 150), "Only 1 visit is known: take the rules as a first hint until there are 150."),
        (
            findings.by_chance(20, 0.3, 0),
            "How this is worked out: in 20 shuffled copies of these cars, where nothing belongs together, 0.3 pairs "
            "were listed on average, and no copy showed a confirmed one.",
        ),
        (list_text.clears("Brake switch", 3, 4), "3 of 7 codes: Brake switch"),
        (list_text.clears("Brake switch", 3, 0), "all 3 codes: Brake switch"),
        (list_text.clears("ECM:P0456", 1, 0), "its code: ECM:P0456"),
        (list_text.hours(185), "3\N{NO-BREAK SPACE}h 05\N{NO-BREAK SPACE}min"),
        (words.plainly(words.reckoned("Plain.", "method.")), "Plain."),
        (words.reckoning(words.reckoned("Plain.", "method.")), "Method."),
        (words.plainly(words.reckoned("", "method.")), ""),
        (words.reckoning("Plain alone."), ""),
        (page_text.moved(1, 0, 2, 1), "1 new, 2 off the list and 1 group changed."),
        (page_text.moved(0, 0, 0, 0), "Nothing changed on the list or in the groups of codes."),
        (wording.csv_cell("plain"), "plain"),
        (wording.csv_cell('a "b", c'), '"a ""b"", c"'),
        (wording.counts([("Depot", 2), ("Nordkette", 1)]), "Depot 2, Nordkette 1"),
        (
            notes.handed_over(
                "V1", specialist="€300", part="alternator", price="€96", left=0.2, total="€156", untold=True
            ),
            "V1: handing over at once costs €300; trying the alternator first costs €96 and leaves something for the "
            "specialist in 20% of such cars, which makes about €156 on average. The alternator is no line all the "
            "same: no job of yours shows that it ends such codes, and none of them names it. Measure before you buy "
            "it; a job with an erase and a scan after would tell.",
        ),
        (
            notes.handed_over("V1", specialist="€300", part="alternator", price="€296", left=0.2, total="€356"),
            "V1: handing over at once costs €300; trying the alternator first costs €296 and leaves something for the "
            "specialist in 20% of such cars, which makes about €356 on average.",
        ),
        (
            action_text.recheck_caution(grave=True),
            "Keep the record of every module before erasing. A brake or steering code is erased with the others: prove "
            "brakes and steering first.",
        ),
        (action_text.work("replace", "boost hose", "left"), "Replace boost hose, left"),
        (action_text.work("repair", "door loom", None), "Repair door loom"),
        (action_text.work("recheck", None, None), "Record, erase, drive, scan again"),
        (action_text.work("specialist", None, None), "Hand over to a specialist"),
        (action_text.work("leave", None, None), "Nothing to do, if you agree: no fault seems to set these codes"),
        (
            notes.mostly_past("V1", ["A:1", "B:2"]),
            "V1: stored only, mostly of the past: A:1, B:2; they go with the erase, look again after the drive.",
        ),
        (
            action_text.ground("repairs", 4, 3),
            "Rests on own repairs: 3 of 4 jobs with this part alone cleared the codes that it shares with this car.",
        ),
        (
            action_text.ground("repairs", 14, 13, 0.9675),
            "Rests on own repairs: 13 of 14 jobs with this part alone cleared the codes that it shares with this car "
            "(93%); 97% on this car, with what its own scans and jobs tell.",
        ),
        (
            action_text.ground("repairs", 4, 4, 0.655),
            "Rests on own repairs: 4 of 4 jobs with this part alone cleared the codes that it shares with this car "
            "(100%); 66% on this car, where something else may set them, so the chance is lower.",
        ),
        (
            action_text.ground("repairs", 4, 3, 0.751),
            "Rests on own repairs: 3 of 4 jobs with this part alone cleared the codes that it shares with this car.",
        ),
        (action_text.ground("code", 0, 0), "Rests on what the code itself names: no job with this part alone yet."),
        (
            action_text.ground(None, 1, 1),
            "1 of 1 job with this part alone cleared the codes that it shares with this car.",
        ),
        (wording.others("a;b;c;d", "b", "d;a"), "c"),
        (wording.others("a;b", None, None), "a;b"),
    ],
)  # fmt: skip
def test_numbers_and_codes_in_words(shown: str, wanted: str):
    assert shown == wanted


LATER: dict[str, object] = {"rank": 3, "action": "replace", "part": "oil and filter", "position": None, "jobs": 0,
                            "basis": "pattern", "chance": 0.45, "check_first": None}  # fmt: skip


@pytest.mark.parametrize(
    ("row", "title", "why"),
    [
        (
            {},
            "Only a hint: replace oil and filter",
            "Only a hint: its codes came with this part's on other cars; neither a job nor the wording of a code "
            "speaks for it. Unless the part is found faulty, hand over instead (step 4).",
        ),
        (
            {"basis": "repairs", "jobs": 2, "chance": 0.0857},
            "Unlikely here: replace oil and filter",
            "Unlikely here: 9%. Unless the part is found faulty, hand over instead (step 4).",
        ),
        ({"basis": "code", "chance": 0.15}, "Replace oil and filter", ""),
        ({"jobs": 1}, "Replace oil and filter", ""),
        ({"rank": 1}, "Replace oil and filter", ""),
        ({"action": "specialist", "part": None, "chance": None}, "Hand over to a specialist", ""),
    ],
)
def test_a_later_step_that_little_speaks_for_says_so_and_leads_to_handing_over(
    row: dict[str, object], title: str, why: str
):
    row = LATER | row
    assert action_text.later_title(row) == title
    assert wording.thin(row, [row, {"rank": 4, "action": "specialist"}]) == why
    assert action_text.why_thin(row, None) == why.replace(" (step 4)", "")


BRAKES, AIRBAG = (
    "Brake work: only for people trained in it.",
    "On this car: Airbag or belt code open (SRS:B0001): leave.",
)


@pytest.mark.parametrize(
    ("action", "caution", "clears", "marked"),
    [
        ("replace", BRAKES, "", True),
        ("repair", f"{BRAKES} {AIRBAG}", "ECM:P0300", True),
        ("replace", AIRBAG, "ECM:P0300", False),
        ("replace", AIRBAG, "BCM:B1455;SRS:B0001", True),
        ("recheck", AIRBAG, "SRS:B0001", False),
        ("replace", None, None, False),
        ("recheck", action_text.recheck_caution(grave=False), "", False),
        ("recheck", action_text.recheck_caution(grave=True), "", True),
        ("specialist", BRAKES, "", False),
    ],
)
def test_the_mark_is_for_work_that_a_caution_is_for_not_for_what_the_car_asks(
    action: str, caution: str, clears: str, marked: bool
):
    assert action_text.is_marked({"action": action, "caution": caution, "clears": clears}) == marked


def test_a_code_without_wording_shows_its_key_alone():
    assert wording.codes("A:1;B:2", {"B:2": "words"}) == [wording.Code("A:1", ""), wording.Code("B:2", "words")]
    assert wording.codes(None, {}) == []


def test_unknown_modules_are_parted_from_the_other_notes():
    told = [
        notes.unknown_module("Lift's platform", 1, "LIFT'S PLATFORM"),
        "other",
        notes.unknown_module("X 1", 2000, "X 1"),
    ]
    assert told[2] == "module 'X 1' (2,000 rows) is not in the list of modules; kept as X 1"
    assert notes.without_modules(told) == (["LIFT'S PLATFORM", "X 1"], ["other"])


def test_notes_that_change_the_week_come_first_and_the_others_keep_their_order():
    told = [
        "code 'x': read as y", "b", "a", "V1: no known part explains A:1: look again, then for the specialist.",
        "hose: codes returned after 6 of the latest 8 jobs, against 1 of the 9 before.", "w47.csv was not loaded",
    ]  # fmt: skip
    assert notes.by_weight(told) == [told[5], told[4], told[3], "b", "a", told[0]]
