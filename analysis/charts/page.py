"""The page that the dealer opens: one file, readable with no network, on a phone and on paper.

It shows the tables and nothing else.  Whatever came in from outside, a code's
text or a file's name, is shown as text: the template escapes it, and the page's
own policy lets no script run but the ones that were put in here.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Mapping
from functools import cache, partial
from typing import Any

import jinja2
import polars as pl
import vl_convert

from analysis.charts import wording
from analysis.charts.clear_chart import clear_chart, shown_results
from analysis.charts.cost_chance import cost_chance
from analysis.charts.family_map import family_map, pairs, places, shown_families
from analysis.charts.page_sections import Changes, asides, changes, listed, recurred_lines, supplier_lines, trust_of
from analysis.charts.reliability_chart import reliability_chart
from analysis.charts.tickets import Ticket, stories, tickets
from analysis.charts.trend_chart import shown_weeks, trend_chart
from analysis.texts import action_text, backtest_text, family_text, page_text, ticket_text, words
from analysis.texts.formatter import Formatter

MOST_CARS = 30  # listed with a family
MOST_STORIES = 300  # cars whose story stands on the page, the first on the list


def page(
    tables: Mapping[str, pl.DataFrame],
    run: Mapping[str, Any],
    sheets: Mapping[str, str] | None = None,
    drawn: Mapping[str, Mapping[str, Any]] | None = None,
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

    Returns:
        The page; the same input gives the same text.
    """
    settings: Mapping[str, Any] = run.get("settings", {})
    made = tickets(tables["shortlist"], tables["open_codes"], tables.get("worse_parts"))
    drawn = draw(tables, settings) if drawn is None else drawn
    environment = sheet_environment(tables, settings)
    notes = [*run.get("notes", []), *run.get("warnings", [])]
    return environment.get_template("page.html.j2").render(
        run=run,
        settings=settings,
        limit=_limit(settings),
        tickets=made,
        sheets=sheets or {},
        totals=_totals(made),
        notes=notes,
        trust=trust_of(tables.get("backtest"), tables.get("reliability"), notes),
        changed=_changed(tables, run),
        stories=_stories(tables, made),
        recurred=recurred_lines(tables.get("recurred"), Formatter.of(settings)),
        asides=asides(tables["outcomes"], tables["open_codes"], tables["rejects"]),
        drawn=drawn,
        page_text=page_text,
        ticket_text=ticket_text,
        family_text=family_text,
        backtest_text=backtest_text,
        action_text=action_text,
        **_behind_charts(tables),
        **_inlined(environment, drawn),
    )


def draw(tables: Mapping[str, pl.DataFrame], settings: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """Draw every chart there is something to draw for.

    Args:
        tables: The outgoing tables, by name, and "codes" (code, text) where it is known.
        settings: currency, cheap_limit and date_style, where they are known.

    Returns:
        Vega-Lite specifications by the chart's name: costs, map, parts, trend and trust, or fewer.
    """
    texts = wording.texts(tables.get("codes"))
    specs = {
        "costs": cost_chance(tables["shortlist"], str(settings.get("currency", "")), settings.get("cheap_limit")),
        "map": family_map(tables["rules"], tables["families"]),
        "parts": clear_chart(tables["part_results"], texts),
        "trend": trend_chart(tables["family_weeks"], tables["families"], texts, Formatter.of(settings)),
        "trust": reliability_chart(tables["reliability"]) if "reliability" in tables else None,
    }
    return {name: spec for name, spec in specs.items() if spec is not None}


def _behind_charts(tables: Mapping[str, pl.DataFrame]) -> dict[str, Any]:
    """Return the rows that the charts draw and those listed beside them."""
    families = tables["families"].sort("vehicles", "family", descending=[True, False], nulls_last=True)
    shown = shown_families(families)
    cars = tables["family_cars"].sort("family", "last_seen", "vehicle", descending=[False, True, False])
    return {
        "families": families.to_dicts(),
        "family_cars": {
            str(key[0]): part.to_dicts() for key, part in cars.partition_by("family", as_dict=True).items()
        },
        "most_cars": MOST_CARS,
        "mapped": shown.height,
        "pairs": pairs(tables["rules"], places(shown)["code"].to_list()).to_dicts(),
        "weeks": shown_weeks(tables["family_weeks"], families).to_dicts(),
        "results": shown_results(tables["part_results"]).to_dicts(),
        "all_results": tables["part_results"].height,
        "erased": _erased(tables["part_results"]),
        "suppliers": supplier_lines(tables["part_results"]).to_dicts(),
    }


def _erased(part_results: pl.DataFrame) -> dict[str, tuple[int, int]]:
    """Return, of the families that a part was tried on, how many known erases stayed clear, and how many there are."""
    known = part_results.filter(pl.col("erase_jobs") > 0).select("family", "erase_cleared", "erase_jobs")
    return {family: (stayed, erases) for family, stayed, erases in known.unique().sort(pl.all()).iter_rows()}


def _changed(tables: Mapping[str, pl.DataFrame], run: Mapping[str, Any]) -> Changes | None:
    if run.get("before") is None:
        return None
    return changes(tables["family_changes"], tables["car_changes"], str(run["before"]))


def _stories(tables: Mapping[str, pl.DataFrame], made: list[Ticket]) -> dict[str, Any]:
    told = {name: tables[name] for name in ("seen", "read", "work") if name in tables}
    if len(told) < 3:
        return {}
    kept = [ticket.vehicle for ticket in made[:MOST_STORIES]]
    return dict(stories({name: frame.filter(pl.col("vehicle").is_in(kept)) for name, frame in told.items()}))


def _limit(settings: Mapping[str, Any]) -> str:
    """Return the limit of what is called cheap, in the dealer's money; blank where it is not known."""
    return Formatter.of(settings).money(settings["cheap_limit"]) if "cheap_limit" in settings else ""


def _totals(made: list[Ticket]) -> dict[str, int]:
    """Count the cars by what their first row says."""
    fixes = [ticket for ticket in made if ticket.first["action"] in ("replace", "repair")]
    return {
        "cars": len(made),
        "cheap": sum(bool(ticket.first["cheap"]) for ticket in fixes),
        "dearer": sum(not ticket.first["cheap"] for ticket in fixes),
        "recheck": sum(ticket.first["action"] == "recheck" for ticket in made),
        "specialist": sum(ticket.first["action"] == "specialist" for ticket in made),
    }


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
    )
    environment.filters |= {
        "percent": words.percent,
        "span": words.span,
        "number": words.number,
        "others": wording.others,
        "codes": partial(wording.codes, texts=wording.texts(tables.get("codes"))),
        "money": formatter.money,
        "day": formatter.day,
        "short_day": formatter.short_day,
        "title": wording.title,
        "check": wording.check,
        "ground": action_text.ground,
        "suppliers": listed,
    }
    return environment


def _inlined(environment: jinja2.Environment, drawn: Mapping[str, Any]) -> dict[str, str]:
    """Return styles, scripts, chart data and the policy that lets only these scripts run."""
    style, script = (_source(environment, name) for name in ("sheet.css", "sheet.js"))
    bundle = _bundle() if drawn else ""
    allowed = " ".join(f"'sha256-{_digest(text)}'" for text in (bundle, script) if text)
    return {
        "policy": f"default-src 'none'; script-src {allowed}; style-src 'unsafe-inline'; img-src data:",
        "style": style,
        "bundle": bundle,
        "script": script,
        "charts": _json(drawn),
        "words": _json(page_text.SCRIPT_WORDS),
    }


def _json(data: Mapping[str, Any]) -> str:
    # A "<" never stands in the data as such, so no text in it can end the script element.
    return json.dumps(data, sort_keys=True).replace("<", "\\u003c")


def _source(environment: jinja2.Environment, name: str) -> str:
    assert environment.loader is not None
    return environment.loader.get_source(environment, name)[0]


@cache
def _bundle() -> str:
    return str(vl_convert.javascript_bundle("window.vegaEmbed = vegaEmbed;"))


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
