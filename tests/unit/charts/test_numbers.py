"""Every number that the page, the charts and the job sheet show is the one of the table behind it."""

from __future__ import annotations

import re
from collections.abc import Iterable

import polars as pl
import pytest

from analysis.charts.family_map import pairs, places, shown_families, with_weeks
from analysis.charts.ledger_chart import months
from analysis.texts.action_text import to_do
from tests.support.page_reader import Reader, charts_of, drawn, sheets
from tests.support.sample_report import own_minutes, sample

TABLES, RUN = sample()
MONEY = "€"


def plain(markup: str) -> str:
    """What is shown of some markup, spaces joined."""
    return " ".join(Reader(markup.replace("</", " </")).shown.split())


CELL = r"<t[hd][^>]*>(.*?)(?=</t[hd]>|<t[hd]|$)"  # HTML lets a cell end where the next one begins


def behind(label: str) -> list[list[str]]:
    """The rows of the table with this label."""
    body = re.search(rf'aria-label="{re.escape(label)}">.*?<tbody>(.*?)</tbody>', drawn(), re.DOTALL)
    assert body is not None
    lines = re.findall(r"<tr[^>]*>(.*?)</tr>", body[1], re.DOTALL)
    return [[plain(cell) for cell in re.findall(CELL, line, re.DOTALL)] for line in lines]


def share(value: float | None) -> str:
    """A share as the page writes it, reckoned without the page's own words."""
    return "–" if value is None else f"{value:.0%}"


def around(low: float | None, high: float | None) -> str:
    """An interval of shares as the page writes it."""
    return "" if low is None or high is None or low == high else f"{low * 100:.0f} to {high * 100:.0f}%"


def price(value: float | None) -> str:
    """An amount as the page writes it."""
    return "–" if value is None else MONEY + (f"{value:,.0f}" if value == int(value) else f"{value:,.2f}")


def articles(kind: str) -> Iterable[tuple[str, str]]:
    """The cards of one kind, each with the name it stands for."""
    for article in re.findall(rf'<article class="{kind}.*?</article>', drawn(), re.DOTALL):
        name = re.search(r'data-(?:vehicle|family)="([^"]*)"', article)
        assert name is not None
        yield name[1], article


def test_every_ticket_has_the_numbers_of_its_first_row():
    rows = {row["vehicle"]: row for row in TABLES["shortlist"].filter(pl.col("rank") == 1).to_dicts()}
    shown = dict(articles("ticket"))
    assert set(shown) == set(rows)
    for vehicle, row in rows.items():
        text = plain(shown[vehicle])
        assert f"Cost {price(row['total_cost'])}" in text
        codes = row["clears"].split(";")
        if row["action"] in ("replace", "repair"):
            interval = around(row["chance_low"], row["chance_high"])
            assert f"Chance {share(row['chance'])} {interval}" in text
            assert f"part {price(row['part_cost'])}, labour {price(row['labour_cost'])}" in text
            assert f"Clears {len(codes)} " in text
            assert ("May stay" in text) == (row["leaves"] is not None)
            assert row["leaves"] is None or f"May stay: {len(row['leaves'].split(';'))} " in text
            jobs = f"{row['jobs_cleared']} of {row['jobs']} jobs" if row["jobs"] else "no job with this part alone yet"
            assert jobs in text
        else:
            assert f"Open codes: {len(codes)}" in text
        more = TABLES["shortlist"].filter(pl.col("vehicle") == vehicle).height - 1
        if more:
            assert f"{more} more. To the end it costs {price(row['expected_cost'])} on average" in text


def rows_of_cars() -> dict[str, str]:
    """The row of each car on the first screen."""
    found = re.findall(r'<tbody[^>]*data-vehicle="([^"]*)".*?(<tr class="car.*?</tr>)', drawn(), re.DOTALL)
    return dict(found)


def test_every_row_of_the_first_screen_has_the_numbers_of_its_first_line():
    rows = {row["vehicle"]: row for row in TABLES["shortlist"].filter(pl.col("rank") == 1).to_dicts()}
    asked = dict(TABLES["cars"].select("vehicle", "asking_cents").iter_rows())
    shown = rows_of_cars()
    assert set(shown) == set(rows)
    for vehicle, row in rows.items():
        cells = [plain(cell) for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", shown[vehicle], re.DOTALL)]
        assert cells[0] == f"{vehicle} {row['make']} {row['model']}"
        assert cells[1] == to_do(row)
        chance = f"{share(row['chance'])} {around(row['chance_low'], row['chance_high'])}".strip()
        codes, left = len(row["clears"].split(";")), len([one for one in (row["leaves"] or "").split(";") if one])
        some = f" {codes} of {codes + left} codes" if left else ""
        assert cells[2] == ("" if row["action"] == "specialist" else chance + some)
        assert cells[3] == price(row["total_cost"])
        minutes = own_minutes(row)
        assert cells[4].split()[:1] == ([] if minutes is None else [f"{minutes:.0f}"])
        asking = asked[vehicle]
        assert cells[5] == ("" if asking is None else f"asking €{asking / 100:,.0f}"), "the word is shown on a phone"
        assert f"{codes} of {codes + left} codes" in cells[6] if left else cells[6].startswith(("all", "its code"))
        assert ("▲" in cells[7]) == bool(row["caution"])


def test_the_totals_are_sums_of_the_first_lines():
    first = TABLES["shortlist"].filter(pl.col("rank") == 1)
    checked = pl.col("check_first").fill_null("").str.starts_with("Checking first is cheaper")
    now, maybe = (first.filter(kind)["part_cost"].sum() for kind in (~checked, checked))
    tries, to_end, handing = first["total_cost"].sum(), first["expected_cost"].sum(), 300 * first.height
    drives = first.filter(~pl.col("action").is_in(["specialist", "leave"])).height
    minutes = sum(own_minutes(row) or 0 for row in first.to_dicts())
    strip = re.search(r'<dl class="totals".*?</dl>', drawn(), re.DOTALL)
    assert strip is not None
    assert [plain(cell) for cell in re.findall(r"<dd[^>]*>(.*?)</dd>", strip[0])] == [
        f"{first.height} of {first.height}", f"{minutes // 60} h {minutes % 60:02d} min", f"{drives}", price(now),
        price(maybe), price(first["labour_cost"].sum()),
        f"€{tries:,.0f}", f"€{to_end:,.0f}", f"€{handing:,.0f}", f"€{handing - round(to_end):,.0f}",
    ]  # fmt: skip


def test_the_bar_of_a_row_lies_where_its_numbers_say():
    rows = {row["vehicle"]: row for row in TABLES["shortlist"].filter(pl.col("rank") == 1).to_dicts()}
    for vehicle, line in rows_of_cars().items():
        row = rows[vehicle]
        bar = re.search(r'style="--c:([\d.]+);--l:([\d.]+);--h:([\d.]+)"', line)
        assert (bar is None) == (row["action"] == "specialist")
        if bar is not None:
            wanted = [row[name] for name in ("chance", "chance_low", "chance_high")]
            assert [float(number) for number in bar.groups()] == pytest.approx(wanted)


def test_every_later_row_has_its_own_numbers():
    rows = {(row["vehicle"], row["rank"]): row for row in TABLES["shortlist"].to_dicts()}
    seen = 0
    for vehicle, article in articles("ticket"):
        for rank, line in re.findall(r'<li value="(\d+)">(.*?)</li>\s*(?=<li value|</ol>)', article, re.DOTALL):
            row, text = rows[vehicle, int(rank)], plain(line)
            assert price(row["total_cost"]) in text
            if row["action"] != "specialist":
                assert f"{share(row['chance'])} {around(row['chance_low'], row['chance_high'])}".strip() in text
            seen += 1
    assert seen == TABLES["shortlist"].filter(pl.col("rank") > 1).height


def test_every_family_has_the_numbers_of_its_row():
    rows = {row["family"]: row for row in TABLES["families"].to_dicts()}
    shown = dict(articles("family"))
    assert set(shown) == set(rows)
    for family, row in rows.items():
        text = plain(shown[family])
        assert f"{row['vehicles']} cars, {row['size']} codes" in text
        if row["best_part"]:
            rate, interval = share(row["best_part_rate"]), around(row["best_part_low"], row["best_part_high"])
            assert f"{row['best_part']}: cleared {rate} of {row['jobs']} known jobs ({interval}" in text
        else:
            assert "Best part no known job yet" in text
        erased = "not tried yet" if row["erase_rate"] is None else f"stayed away in {share(row['erase_rate'])}"
        assert f"Erasing alone {erased}" in text


def test_the_table_of_pairs():
    order = places(shown_families(TABLES["families"]))["code"].to_list()
    ratio = lambda value: "–" if value is None else f"{value:.3g}"  # noqa: E731 - a name for what the loop needs
    assert behind("Table of pairs of codes") == [
        [a, b, str(vehicles), ratio(odds), ratio(low), ratio(high), f"{verdict} since {week}" if week else verdict]
        for a, b, vehicles, odds, low, high, verdict, week in with_weeks(
            pairs(TABLES["rules"], order), TABLES["verdict_weeks"]
        ).iter_rows()
    ]
    one = TABLES["rules"].row(0, named=True)
    assert [one["antecedent"], one["consequent"], str(one["vehicles"])] in [
        row[:3] for row in behind("Table of pairs of codes")
    ]


def test_the_table_of_clear_rates():
    wanted = [
        [row["part"], row["family"], str(row["cleared"]), str(row["jobs"]), share(row["rate"]),
         around(row["rate_low"], row["rate_high"]),
         share(row["erase_rate"]) + (f" ({row['erase_cleared']} of {row['erase_jobs']})" if row["erase_jobs"] else ""),
         str(row["returned"]), row["suppliers"]]
        for row in TABLES["part_results"].to_dicts()
    ]  # fmt: skip
    assert sorted(behind("Table of clear rates")) == sorted(wanted)


def test_the_table_of_weeks():
    wanted = {
        (str(family), ", ".join(f"{row['week']}: {row['vehicles']}" for row in rows.sort("week").to_dicts()))
        for (family,), rows in TABLES["family_weeks"].group_by("family")
    }
    assert {tuple(line) for line in behind("Table of groups by week")} == wanted


def test_the_table_of_jobs_and_the_sentences_of_the_months():
    assert sorted(behind("Table of jobs")) == sorted(
        [row["month"].strftime("%Y-%m"), row["vehicle"], row["first_try"],
         "followed" if row["followed"] else "something else was done", share(row["chance"]), row["outcome"] or "",
         price(row["part_cost"]), row["supplier"] or ""]
        for row in TABLES["ledger"].to_dicts()
    )  # fmt: skip
    said = plain(re.search(r'<section id="ledger".*?</section>', drawn(), re.DOTALL)[0])  # type: ignore[index]
    # October by hand: .8 + .7 + .5 promised; 42 + 30 + 112 + 15 + 34 + 15 paid.
    assert (
        "2026-10 4 jobs on cars of the list, 3 as its first step said. Promised to work: 2.0 of 3. Worked: 2. "
        "Came back: 1. Cost €248. Parts bought in vain: 1, for €112 (Hafenlager 1)."
    ) in said
    assert (
        "2026-11 4 jobs on cars of the list, 2 as its first step said. Promised to work: 0.9 of 1. Worked: 1." in said
    )
    assert "Came back: 0. 1 not proven yet. Cost €93.25." in said


def test_the_squares_of_the_map_are_those_of_the_rules():
    rules = {(row["antecedent"], row["consequent"]): row for row in TABLES["rules"].to_dicts()}
    sets = charts_of(drawn())["map"]["datasets"].values()  # type: ignore[attr-defined]
    squares = [row for rows in sets for row in rows if "odds_ratio" in row]
    assert len(squares) == 2 * len(rules)
    for square in squares:
        row = rules.get((square["left"], square["right"])) or rules[square["right"], square["left"]]
        for name in ("vehicles", "odds_ratio", "verdict"):
            assert square[name] == row[name]


def test_of_parts_in_vain_every_one_is_counted_with_its_supplier_or_without():
    row = TABLES["ledger"].filter("followed").row(0, named=True) | {"outcome": "came back"}
    rows = [row | {"part_cost": cost, "supplier": name} for cost, name in ((30.0, "Depot"), (12.5, None), (None, None))]
    [month] = months(pl.DataFrame(rows, schema=TABLES["ledger"].schema))
    assert (month.came_back, month.vain_parts, month.in_vain) == (3, 2, 42.5)
    assert month.vain_suppliers == [("Depot", 1), ("supplier not known", 1)]


def test_a_job_sheet_has_the_chances_and_costs_of_its_rows():
    seen = 0
    for row in TABLES["shortlist"].filter(pl.col("rank") <= 4).to_dicts():
        if row["action"] in ("replace", "repair"):
            interval = around(row["chance_low"], row["chance_high"])
            told = f"chance {share(row['chance'])} ({interval}), cost {price(row['total_cost'])}, "
            work = f"work {row['labour_cost'] / 45 * 60:.0f}, erasing and scans 20)"
            shown = plain(sheets()[f"jobsheets/{row['vehicle']}.html"].decode())
            minutes = re.search(rf"{re.escape(told)}(\d+) minutes \((?:check (\d+), )?{re.escape(work)}", shown)
            assert minutes
            assert int(minutes[1]) == int(minutes[2] or 0) + round(row["labour_cost"] / 45 * 60) + 20
            seen += 1
    assert seen > 20
