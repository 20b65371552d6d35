"""The page that the dealer opens: one file, readable with no network, on a phone and on paper.

It shows the tables and nothing else.  Whatever came in from outside, a code's
text or a file's name, is shown as text: the template escapes it, and the page's
own policy lets no script run but the ones that were put in here.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import re
from collections import Counter
from collections.abc import Collection, Mapping
from functools import cache, partial
from typing import Any

import jinja2
import polars as pl
import vl_convert
from altair.utils.schemapi import debug_mode
from jinja2.bccache import Bucket

from analysis.charts import theme, wording
from analysis.charts.car_rows import CarRow, car_rows, off_list, without_ages
from analysis.charts.car_rows import totals as sums_of
from analysis.charts.cluster_chart import MOST_FAMILIES, cluster_chart, shown_results, telling
from analysis.charts.cost_chance import cost_chance
from analysis.charts.family_map import family_map, pairs, places, shown_families, with_weeks
from analysis.charts.ledger_chart import ledger_chart, months
from analysis.charts.page_sections import Changes, asides, changes, listed, recurred_lines, standing_groups, trust_of
from analysis.charts.reliability_chart import reliability_chart
from analysis.charts.tickets import Story, Ticket, first_cars, stories, tickets
from analysis.charts.trend_chart import shown_weeks, trend_chart
from analysis.charts.week_sheet import week_sheet
from analysis.diagnosis.decision.operations import DRIVE_MINUTES
from analysis.texts import (
    action_text,
    backtest_text,
    family_text,
    ledger_text,
    list_text,
    names,
    page_text,
    paper_text,
    standing_text,
    ticket_text,
    words,
)
from analysis.texts import notes as run_notes
from analysis.texts.formatter import Formatter

STEP = 40  # cars shown at once
MOST_LISTED = 2_000  # cars on the page, the first on the list; all of them stand in the tables
MOST_CHOICES = 1_000  # lines of one list of choices
MOST_CARS = 12  # listed with a family
MOST_PROMISED = 200  # jobs of the ledger
MOST_STORIES = 300  # cars whose story stands on the page, the first on the list


def page(
    tables: Mapping[str, pl.DataFrame],
    run: Mapping[str, Any],
    sheets: Mapping[str, str] | None = None,
    drawn: Mapping[str, Mapping[str, Any]] | None = None,
    kept: str | None = None,
    *,
    papers: Collection[str] | None = None,
    together: str = "",
) -> str:
    """Return the report as one HTML file.

    Args:
        tables: All outgoing tables by name (money in units, lists joined by ``;``); any may have no rows.  Beside
            them may stand "codes" (code, text), whose wording is shown with the codes, "recurred" as
            :func:`analysis.charts.page_sections.recurred_lines` takes it, and "seen", "read" and "work" as
            :func:`analysis.charts.tickets.stories` takes them.
        run: week and as_of (texts), before (the week of the report before, or None), counts (numbers by name),
            files (name and refused), notes and warnings (sentences) and settings (currency, cheap_limit, odometer_unit,
            date_style); what is missing is left out of the page.
        sheets: The name of each vehicle's job sheet below ``jobsheets/``, without its ending, where there are any.
        drawn: The charts as :func:`draw` returns them, where they are drawn already.
        kept: What :func:`library` returned before, where somebody has kept it.
        papers: The vehicles whose job sheet is there as PDF too; None for all.
        together: The page with all job sheets, where there is one.

    Returns:
        The page; the same input gives the same text.
    """
    settings: Mapping[str, Any] = run.get("settings", {})
    said = [*run.get("notes", []), *run.get("warnings", [])]
    made = tickets(tables["shortlist"], tables["open_codes"], tables.get("worse_parts"), said)
    drawn = draw(tables, settings) if drawn is None else drawn
    environment = sheet_environment(tables, settings)
    totals, made = _totals(made), made[:MOST_LISTED]
    aged = car_rows(made, tables, settings, wording.texts(tables.get("codes")), as_of=run.get("as_of"))
    rows, old = without_ages(aged)
    trust = trust_of(tables.get("backtest"), tables.get("reliability"), said)
    told = _stories(tables, made)
    unknown, others = run_notes.without_modules(note for note in said if trust is None or note not in trust.said)
    away = off_list(tables)
    heaps = asides(tables["outcomes"], tables["open_codes"], tables["rejects"])
    shown: dict[str, Any] = {
        "run": run,
        "settings": settings,
        "limit": _limit(settings),
        "drive": Formatter.of(settings).distance(float(settings.get("road_test_km", 40))),
        "drive_minutes": DRIVE_MINUTES,
        "rows": rows,
        "groups": list_text.groups(_limit(settings)),
        "heaps_of": dict(sorted(Counter(row.ticket.heap for row in rows).items())),
        "unpriced": sum(row.ticket.first["total_cost"] is None for row in rows),
        "step": STEP,
        "handed": [
            (f"car-{place}", row.ticket.vehicle)
            for place, row in enumerate(rows, 1)
            if row.ticket.first["action"] == "specialist"
        ],
        "old_scans": list_text.scans_old(*old) if old else "",
        "sums": sums_of(rows),
        "sheet": week_sheet(rows, tables.get("part_suppliers"), tables.get("cars")),
        "off_list": away,
        "none_scanned": bool(away) and not rows and {why for _, why in away} == {list_text.OFF_UNREAD},
        "options": _options(rows, tables),
        "sheets": sheets or {},
        "together": together if sheets else "",
        "totals": totals,
        "papers": set(sheets or {}) if papers is None else papers,
        "notes": run_notes.by_weight(note for note in others if words.plainly(note)),
        "methods": _methods(others),
        "unknown": unknown,
        "two_numbers": run_notes.two_numbers(others),
        "trust": trust,
        "changed": _changed(tables, run),
        "standing": standing_groups(tables["standing"]) if "standing" in tables else [],
        "stories": told,
        "told": _json({car: _story_data(story, Formatter.of(settings)) for car, story in told.items()}),
        "recurred": recurred_lines(tables.get("recurred"), Formatter.of(settings)),
        "asides": heaps,
        "heaps": [(heap.title, heap.size) for heap in heaps],
        "drawn": drawn,
        "page_text": page_text,
        "list_text": list_text,
        "paper_text": paper_text,
        "ticket_text": ticket_text,
        "family_text": family_text,
        "ledger_text": ledger_text,
        "standing_text": standing_text,
        "backtest_text": backtest_text,
        "action_text": action_text,
        **_behind_charts(tables),
        **_inlined(environment, drawn, Formatter.of(settings), kept),
    }
    far = _far_tickets(environment, shown)
    return environment.get_template("page.html.j2").render(**shown, far=_zipped(_json(far)) if far else "")


def _far_tickets(environment: jinja2.Environment, shown: Mapping[str, Any]) -> dict[str, str]:
    """Return the rows and tickets of the cars that are not shown at first, as the page's script puts them in.

    A page of thousands of cars opens in a moment that way.  They are written by the same template as the others, and
    escaped as they are.
    """
    rows = shown["rows"]
    if len(rows) <= STEP:
        return {}
    tickets_of = environment.get_template("macros.html.j2").make_module(dict(shown))
    write: Any = getattr(tickets_of, "rows_of")  # noqa: B009 - the template's own macro
    return {row.ticket.vehicle: str(write(row, place)) for place, row in enumerate(rows, 1) if place > STEP}


def _options(rows: list[CarRow], tables: Mapping[str, pl.DataFrame]) -> dict[str, list[str]]:
    """Return what can be chosen: parts and codes of the list and of the families, and the cars of the list."""
    parts = {part for row in rows for part in row.choices["part"]} | set(tables["part_results"]["part"])
    members = {code for joined in tables["families"]["codes"] for code in joined.split(";")}
    codes = {code for row in rows for code in row.choices["code"]} | members
    cars = sorted(row.ticket.vehicle for row in rows)
    return {"part": sorted(parts)[:MOST_CHOICES], "code": sorted(codes)[:MOST_CHOICES], "car": cars[:MOST_CHOICES]}


def _methods(notes: list[str]) -> dict[str, list[str]]:
    """Return how the notes are reckoned: those on pairs and families, and the others."""
    method = [words.reckoning(note) for note in notes if words.reckoning(note) and not words.plainly(note)]
    rest = [
        f"{words.plainly(note)} {words.reckoning(note)}"
        for note in notes
        if words.reckoning(note) and words.plainly(note)
    ]
    return {"clusters": method, "run": rest}


def draw(tables: Mapping[str, pl.DataFrame], settings: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """Draw every chart there is something to draw for.

    Args:
        tables: The outgoing tables, by name, and "codes" (code, text) where it is known.
        settings: currency, cheap_limit and date_style, where they are known.

    Returns:
        Vega-Lite specifications by the chart's name: clusters, costs, map, trend, trust and ledger, or
        fewer.
    """
    texts = wording.texts(tables.get("codes"))
    # Held against the schema of Vega-Lite as a whole by the tests of the charts, not piece by piece here.
    with debug_mode(False):
        specs = {
            "costs": cost_chance(
                _on_page(tables["shortlist"]), str(settings.get("currency", "")), settings.get("cheap_limit")
            ),
            "clusters": cluster_chart(tables["part_results"], tables["families"], texts),
            "map": family_map(tables["rules"], tables["families"]),
            "trend": trend_chart(tables["family_weeks"], tables["families"], texts, Formatter.of(settings)),
            "trust": reliability_chart(tables["reliability"]) if "reliability" in tables else None,
            "ledger": ledger_chart(tables["ledger"], Formatter.of(settings)) if "ledger" in tables else None,
        }
    return {name: spec for name, spec in specs.items() if spec is not None}


def _on_page(shortlist: pl.DataFrame) -> pl.DataFrame:
    """Return the rows of the cars that the page lists."""
    if shortlist["vehicle"].n_unique() <= MOST_LISTED:
        return shortlist
    return shortlist.filter(pl.col("vehicle").is_in(first_cars(shortlist, MOST_LISTED)))


def _behind_charts(tables: Mapping[str, pl.DataFrame]) -> dict[str, Any]:
    """Return the rows that the charts draw and those listed beside them."""
    families = tables["families"].sort("vehicles", "family", descending=[True, False], nulls_last=True)
    shown, results = shown_families(families), shown_results(tables["part_results"], families)
    cars = tables["family_cars"].sort("family", "last_seen", "vehicle", descending=[False, True, False])
    return {
        "families": families.to_dicts(),
        "family_cars": {
            str(key[0]): part.to_dicts() for key, part in cars.partition_by("family", as_dict=True).items()
        },
        "most_cars": MOST_CARS,
        "mapped": shown.height,
        "pairs": with_weeks(
            pairs(tables["rules"], places(shown)["code"].to_list()), tables["verdict_weeks"]
        ).to_dicts(),
        "weeks": _by_family(shown_weeks(tables["family_weeks"], families)),
        "shown_families": MOST_FAMILIES,
        "results": results.to_dicts(),
        "not_drawn": results.height - telling(results).height,
        "months": months(tables["ledger"]) if "ledger" in tables else [],
        "promised": tables["ledger"]
        .sort("month", "vehicle", "job", descending=[True, False, False])
        .to_dicts()[:MOST_PROMISED]
        if "ledger" in tables
        else [],
        "all_results": tables["part_results"].height,
        "erased": _erased(tables["part_results"]),
    }


def _by_family(weeks: pl.DataFrame) -> list[tuple[str, list[dict[str, Any]]]]:
    """Return the rows of each family, in the order of the rows."""
    return [(str(key[0]), rows.to_dicts()) for key, rows in weeks.group_by("family", maintain_order=True)]


def _erased(part_results: pl.DataFrame) -> dict[str, tuple[int, int]]:
    """Return, of the families that a part was tried on, how many known erases stayed clear, and how many there are."""
    known = part_results.filter(pl.col("erase_jobs") > 0).select("family", "erase_cleared", "erase_jobs")
    return {family: (stayed, erases) for family, stayed, erases in known.unique().sort(pl.all()).iter_rows()}


def _changed(tables: Mapping[str, pl.DataFrame], run: Mapping[str, Any]) -> Changes | None:
    if run.get("before") is None:
        return None
    return changes(tables["family_changes"], tables["car_changes"], str(run["before"]))


def _stories(tables: Mapping[str, pl.DataFrame], made: list[Ticket]) -> dict[str, Story]:
    told = {name: tables[name] for name in ("seen", "read", "work") if name in tables}
    if len(told) < 3:
        return {}
    kept = [ticket.vehicle for ticket in made[:MOST_STORIES]]
    return dict(stories({name: frame.filter(pl.col("vehicle").is_in(kept)) for name, frame in told.items()}))


def _story_data(story: Story, formatter: Formatter) -> dict[str, Any]:
    """Return a story as the page's script reads it: visits as [day, work], codes as [code, one letter a visit]."""
    return {
        "visits": [[formatter.day(visit.at), visit.work] for visit in story.visits],
        "codes": [[code, "".join(mark[0] for mark in marks)] for code, marks in story.codes],
        "earlier": ticket_text.earlier_visits(story.earlier) if story.earlier else "",
    }


def _limit(settings: Mapping[str, Any]) -> str:
    """Return the limit of what is called cheap, in the dealer's money; blank where it is not known."""
    return Formatter.of(settings).money(settings["cheap_limit"]) if "cheap_limit" in settings else ""


def _totals(made: list[Ticket]) -> dict[str, int]:
    """Count the cars, and those whose first row is cheap to try."""
    return {
        "cars": len(made),
        "cheap": sum(bool(one.first["cheap"]) for one in made),
    }


class _Compiled(jinja2.BytecodeCache):
    """Keeps what the templates were compiled to: a week writes a sheet for every car with the same one."""

    def __init__(self) -> None:
        self._made: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Take out a template that was compiled before."""
        if bucket.key in self._made:
            bucket.bytecode_from_string(self._made[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep a compiled template."""
        self._made[bucket.key] = bucket.bytecode_to_string()


_COMPILED = _Compiled()


def sheet_environment(tables: Mapping[str, pl.DataFrame], settings: Mapping[str, Any]) -> jinja2.Environment:
    """Return the templates' environment: everything is escaped, and numbers, days and codes have their words.

    Args:
        tables: "codes" (code, text) where it is known.
        settings: currency, odometer_unit and date_style where they are known.
    """
    formatter = Formatter.of(settings)
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("analysis.charts", "sheet"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=_COMPILED,
    )
    environment.filters |= {
        "percent": words.percent,
        "span": words.span,
        "number": words.number,
        "others": wording.others,
        "codes": partial(wording.codes, texts=wording.texts(tables.get("codes"))),
        "money": formatter.money,
        "round_money": formatter.round_money,
        "month": formatter.month,
        "hours": list_text.hours,
        "whole": words.whole,
        "counted": words.counted,
        "capital": words.large,
        "counts": wording.counts,
        "csv_cell": wording.csv_cell,
        "plainly": words.plainly,
        "reckoning": words.reckoning,
        "day": formatter.day,
        "short_day": formatter.short_day,
        "title": action_text.later_title,
        "check": wording.check,
        "repeats": wording.repeats,
        "likelier": wording.likelier,
        "thin": wording.thin,
        "not_proven": action_text.is_not_proven,
        "ground": action_text.ground,
        "suppliers": listed,
        "at_step": action_text.at_step,
        "count_name": names.count,
    }
    return environment


def _inlined(
    environment: jinja2.Environment, drawn: Mapping[str, Any], formatter: Formatter, kept: str | None
) -> dict[str, str]:
    """Return styles, scripts, chart data and the policy that lets only these scripts run."""
    style, script = (_source(environment, name) for name in ("sheet.css", "sheet.js"))
    bundle = kept or library() if drawn else ""
    # Packed, and unpacked by the page's script when a chart is wanted: the page is two thirds as large, and its list is
    # there before the library is read.  The policy names what comes out of it.
    packed = _zipped(bundle) if bundle else ""
    allowed = " ".join(f"'sha256-{_digest(text)}'" for text in (bundle, script) if text)
    return {
        "policy": f"default-src 'none'; script-src {allowed}; style-src 'unsafe-inline'; img-src data:",
        "style": style,
        "packed": packed,
        "script": script,
        "charts": _json({"config": theme.CONFIG, "specs": {name: _packed(spec) for name, spec in drawn.items()}}),
        "words": _json({**page_text.SCRIPT_WORDS, "money": formatter.money_pattern, "step": STEP}),
    }


def _zipped(text: str) -> str:
    """Return a text packed, in letters that mean nothing to a page; the same text gives the same letters."""
    return base64.b64encode(gzip.compress(text.encode(), mtime=0)).decode()


def _packed(spec: Mapping[str, Any]) -> dict[str, Any]:
    """Return a specification without the look that all share, its data as one head and rows of values."""
    packed = {name: value for name, value in spec.items() if name not in ("config", "$schema", "datasets")}
    data = {}
    for name, rows in spec["datasets"].items():
        heads = sorted({head for row in rows for head in row})
        data[name] = {"heads": heads, "rows": [[row.get(head) for head in heads] for row in rows]}
    return packed | {"datasets": data}


def _json(data: Mapping[str, Any]) -> str:
    # A "<" never stands in the data as such, so no text in it can end the script element.
    return json.dumps(data, sort_keys=True, separators=(",", ":")).replace("<", "\\u003c")


def _source(environment: jinja2.Environment, name: str) -> str:
    assert environment.loader is not None
    # Styles and script mean the same without their indents and remarks, in fewer bytes.
    return re.sub(r"(?m)^\s+|^\s*//.*\n", "", environment.loader.get_source(environment, name)[0])


@cache
def library() -> str:
    """Return the script that draws the charts in a browser; the same version of it gives the same text."""
    return str(vl_convert.javascript_bundle("window.vegaEmbed = vegaEmbed;"))


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
