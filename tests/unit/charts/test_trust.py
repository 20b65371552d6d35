"""How far to trust the list is said in a plain sentence, with the numbers of the check on the past."""

from __future__ import annotations

import re

import polars as pl
import pytest

from analysis.charts import page
from analysis.charts.page_sections import trust_of
from analysis.texts.findings import taken_for
from tests.support.page_reader import Reader, charts, charts_of, drawn
from tests.support.sample_report import empty, prepared, sample

TABLES, RUN = sample()


def section(tables: dict[str, pl.DataFrame]) -> str:
    """The section's text, spaces joined."""
    shown = charts() if tables["reliability"].height else None
    found = re.search(r'<section id="trust".*?</section>', page(tables, RUN, drawn=shown), re.DOTALL)
    assert found is not None
    return " ".join(Reader(found[0].replace("</", " </")).shown.split())


def checked(n: int) -> dict[str, pl.DataFrame]:
    """The sample with so many checked visits, two of three named first."""
    row = {"n": n, "top1": 2 / 3, "top3": 1.0, "judged": 0, "cuts": 1, "cost_vs_named": 0.5}
    return TABLES | {"backtest": prepared("backtest", [row])}


def test_the_sentence_has_the_counts_and_the_facts_have_the_shares():
    told = section(TABLES)
    assert "Of 61 past visits that one part cleared, the list would have named it first in 38" in told
    # Wilson's interval of 38 of 61, worked by hand: (38 + 1.92 -+ 1.96 sqrt(38 * 23 / 61 + 0.96)) / (61 + 3.84).
    assert "expect its first step to be right 50% to 73% of the time" in told
    for fact in (
        "62% named the part that worked first",
        "77% named it among the first three",
        "81% of the cost of fitting what the code names",
        "105% of the cost of fitting what we fitted most",
        "Judged on 54 visits",
        "Brier score): 0.164",
    ):
        assert fact.split(" ", 1)[-1] in told
        assert fact.split(" ", 1)[0] in told


def test_the_table_behind_the_curve_holds_its_rows():
    body = re.search(r'aria-label="Table of chances and what happened">(.*?)</table>', drawn(), re.DOTALL)
    assert body is not None
    cells = [re.findall(r"<td[^>]*>(.*?)</td>", line) for line in re.findall(r"<tr>(.*?)</tr>", body[1])][1:]
    assert cells == [
        [str(row["n"]), f"{row['predicted']:.0%}", f"{row['observed']:.0%}",
         f"{row['low'] * 100:.0f} to {row['high'] * 100:.0f}%"]
        for row in TABLES["reliability"].to_dicts()
    ]  # fmt: skip


def test_what_chances_are_taken_for_stands_beside_their_chart_and_not_among_the_notes():
    note = taken_for(0.7, 0.73, 1040)
    shown = page(TABLES, RUN | {"notes": [note]}, drawn=charts())
    beside = re.search(r'<p class="hint">Judged on.*?</p>', shown, re.DOTALL)
    assert beside is not None
    assert note in beside[0]
    assert shown.count(note) == 1


def test_with_few_visits_it_says_so_in_the_headline_and_in_the_section():
    told = section(checked(12))
    assert "named it first in 8" in told
    assert "under 30 visits that is too few to tell how far to trust it." in told
    assert "With so few visits the bars are wide." in told
    headline = page(checked(12), RUN, drawn=charts()).split("</header>")[0]
    assert "Too few past visits to say how often such a first step was right." in headline
    assert "67%" not in headline
    assert (
        "of past visits that one part ended, it was named first in 67%"
        in page(checked(30), RUN, drawn=charts()).split("</header>")[0]
    )


def test_first_chances_that_were_tested_are_shown_where_no_part_cleared_the_codes():
    row = {"n": 0, "top1": None, "top3": None, "judged": 54, "cuts": 1}
    assert "Judged on 54 visits" in section(TABLES | {"backtest": prepared("backtest", [row])})


def test_with_no_visit_it_says_what_it_takes_and_draws_nothing():
    assert "trust" not in charts_of(drawn("empty"))
    told = section(empty()[0])
    assert "No past visit can check the list yet" in told
    assert "No past visit has put a first chance to the test yet" in told
    assert "%" not in told


def test_where_the_past_was_not_checked_there_is_no_section():
    tables = {name: table for name, table in TABLES.items() if name not in ("backtest", "reliability")}
    text = page(tables, RUN, drawn={})
    assert 'id="trust"' not in text
    assert 'href="#trust"' not in text
    assert trust_of(TABLES["backtest"], None) is trust_of(TABLES["backtest"].clear(), TABLES["reliability"]) is None


@pytest.mark.parametrize(("n", "few"), [(0, False), (1, True), (29, True), (30, False)])
def test_few_begins_at_one_and_ends_at_thirty(n: int, few: bool):
    trust = trust_of(checked(n)["backtest"], TABLES["reliability"])
    assert trust is not None
    assert (trust.few, trust.check is None) == (few, n == 0)


def test_the_sentence_is_not_said_twice():
    trust = trust_of(TABLES["backtest"], TABLES["reliability"])
    assert trust is not None
    rival = (
        "First choice on past visits: the list and what the codes name cannot be told apart yet. "
        "How this is worked out: 3 against 2."
    )
    run = RUN | {"warnings": [trust.sentence, rival, trust.kept_back, "another note"]}
    shown = Reader(page(TABLES, run, drawn=charts())).shown
    assert shown.count("each time from earlier visits only") == 1
    assert shown.count("cannot be told apart yet.") == 1
    assert shown.count("3 against 2.") == 1
    assert shown.index("cannot be told apart yet.") < shown.index("3 against 2."), "the plain sentence stands first"
    assert shown.count("No list is complete") == 1
    assert "another note" in shown.split("Notes of the run")[-1]


def test_rivals_and_what_is_kept_back_stand_in_the_section():
    told = section(TABLES)
    kept = "lowered by 1.6% to leave room for other causes and for faults that have passed, as the chances given on 54"
    assert f"{kept} past visits say; surer" in told
    assert "Beside the list stand two plain rules" not in told, "no note says"
    notes = ["First choice on past visits: the list is right more often.", "Other."]
    trust = trust_of(TABLES["backtest"], TABLES["reliability"], notes)
    assert trust is not None
    assert trust.rivals == ["The list is right more often."]
    assert notes[0] in trust.said
    assert notes[1] not in trust.said
