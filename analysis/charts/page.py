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
from analysis.charts.aside import asides
from analysis.charts.clear_chart import clear_chart, shown_results
from analysis.charts.cost_chance import cost_chance
from analysis.charts.family_map import family_map, pairs, places, shown_families
from analysis.charts.tickets import Ticket, tickets


def page(tables: Mapping[str, pl.DataFrame], run: Mapping[str, Any]) -> str:
    """Return the report as one HTML file.

    Args:
        tables: shortlist, families, rules, part_results, outcomes, open_codes and rejects with the columns of
            the outgoing tables (money in units, lists joined by ``;``); any may have no rows.  A frame "codes"
            (code, text) may stand beside them: its wording is shown with the codes.
        run: week and as_of (texts), counts (numbers by name), files (name and refused), warnings (sentences)
            and settings (currency, cheap_limit, road_test_km); what is missing is left out of the page.

    Returns:
        The page; the same input gives the same text.
    """
    settings: Mapping[str, Any] = run.get("settings", {})
    currency = str(settings.get("currency", ""))
    texts = _texts(tables.get("codes"))
    made = tickets(tables["shortlist"], tables["open_codes"])
    specs = {
        "map": family_map(tables["rules"], tables["families"]),
        "parts": clear_chart(tables["part_results"]),
        "costs": cost_chance(tables["shortlist"], currency, settings.get("cheap_limit")),
    }
    drawn = {name: spec for name, spec in specs.items() if spec is not None}
    shown = shown_families(tables["families"])
    environment = _environment(texts, currency)
    return environment.get_template("page.html.j2").render(
        run=run,
        settings=settings,
        tickets=made,
        tally=_tally(made),
        families=_ranked(tables["families"]).to_dicts(),
        mapped=shown.height,
        pairs=pairs(tables["rules"], places(shown)["code"].to_list()).to_dicts(),
        results=shown_results(tables["part_results"]).to_dicts(),
        all_results=tables["part_results"].height,
        asides=asides(tables["outcomes"], tables["open_codes"], tables["rejects"]),
        drawn=drawn,
        **_inlined(environment, drawn),
    )


def _texts(codes: pl.DataFrame | None) -> dict[str, str]:
    if codes is None:
        return {}
    return dict(codes.filter(pl.col("text").is_not_null()).select("code", "text").iter_rows())


def _ranked(families: pl.DataFrame) -> pl.DataFrame:
    return families.sort("vehicles", "family", descending=[True, False], nulls_last=True)


def _tally(made: list[Ticket]) -> dict[str, int]:
    """Count the cars by what their first row says."""
    fixes = [ticket for ticket in made if ticket.first["action"] in ("replace", "repair")]
    return {
        "cars": len(made),
        "cheap": sum(bool(ticket.first["cheap"]) for ticket in fixes),
        "dearer": sum(not ticket.first["cheap"] for ticket in fixes),
        "recheck": sum(ticket.first["action"] == "recheck" for ticket in made),
        "specialist": sum(ticket.first["action"] == "specialist" for ticket in made),
    }


def _environment(texts: Mapping[str, str], currency: str) -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("analysis.charts", "sheet"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "percent": wording.percent,
        "span": wording.span,
        "number": wording.number,
        "counted": wording.count,
        "others": wording.others,
        "codes": partial(wording.codes, texts=texts),
        "money": partial(wording.money, currency=currency),
        "work": wording.work,
        "ground": wording.ground,
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
        # A "<" never stands in the data as such, so no text in it can end the script element.
        "charts": json.dumps(drawn, sort_keys=True).replace("<", "\\u003c"),
    }


def _source(environment: jinja2.Environment, name: str) -> str:
    assert environment.loader is not None
    return environment.loader.get_source(environment, name)[0]


@cache
def _bundle() -> str:
    return str(vl_convert.javascript_bundle("window.vegaEmbed = vegaEmbed;"))


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
