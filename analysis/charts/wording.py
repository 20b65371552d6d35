"""How numbers, days, distances and codes are put into words, in one place.

Nothing is computed here: a share is shown as whole per cent, money with its
sign, and nothing known as a dash or a plain sentence.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import polars as pl

from analysis.diagnosis.rows import CHECK_PAYS

UNKNOWN = "–"
_SIGNS = {"EUR": "€", "GBP": "£", "USD": "$"}
_KM_PER_MILE = 1.609344
_DATES = {"iso": "%Y-%m-%d", "day first": "%d.%m.%Y", "month first": "%m/%d/%Y"}
_SHORT_DATES = {"iso": "%m-%d", "day first": "%d.%m.", "month first": "%m/%d"}


@dataclass(frozen=True)
class Code:
    """A code as the page shows it: its key, and its wording where one is known."""

    key: str
    words: str


@dataclass(frozen=True)
class Check:
    """How to prove a part faulty.

    Attributes:
        how: In words; empty text where nothing is known.
        pays: Checking before buying is cheaper than fitting straight away.
    """

    how: str
    pays: bool


@dataclass(frozen=True)
class Manner:
    """How this dealer writes money, distances and days.

    Attributes:
        currency: ISO 4217 code.
        unit: "km" or "mi".
        dates: "iso", "day first" or "month first".
    """

    currency: str = ""
    unit: str = "km"
    dates: str = "iso"

    @classmethod
    def of(cls, settings: Mapping[str, Any]) -> Manner:
        """Take what the settings say of it: currency, odometer_unit and date_style."""
        unit, dates = settings.get("odometer_unit", cls.unit), settings.get("date_style", cls.dates)
        return cls(str(settings.get("currency", "")), str(unit), str(dates))

    def money(self, amount: float | None) -> str:
        """Return an amount in units with the currency's sign or code."""
        return money(amount, self.currency)

    def distance(self, km: float) -> str:
        """Return a distance as whole km or miles, rounded up: it is one to drive at least."""
        return f"{math.ceil(round(km if self.unit == 'km' else km / _KM_PER_MILE, 6)):,}\N{NO-BREAK SPACE}{self.unit}"

    def day(self, day: date | datetime | str | None) -> str:
        """Return a day, or an ISO text of one, in the dealer's manner; a dash where it is not known."""
        if day is None:
            return UNKNOWN
        known = date.fromisoformat(day) if isinstance(day, str) else day
        return known.strftime(_DATES[self.dates])

    def short_day(self, day: date | datetime) -> str:
        """Return day and month alone, for narrow columns."""
        return day.strftime(_SHORT_DATES[self.dates])


def texts(known: pl.DataFrame | None) -> dict[str, str]:
    """Return the wording of each code that has one, out of the columns code and text."""
    if known is None:
        return {}
    return dict(known.filter(pl.col("text").is_not_null()).select("code", "text").iter_rows())


def codes(joined: str | None, texts: Mapping[str, str]) -> list[Code]:
    """Split ``;``-separated code keys and put the known wording beside each."""
    return [Code(key, texts.get(key, "")) for key in (joined or "").split(";") if key]


def named(family: str, texts: Mapping[str, str]) -> str:
    """Return a family's name with the wording of the code it is named after, where that is known."""
    return f"{family} {texts[family]}" if family in texts else family


def others(joined: str, root: str | None, knock_on: str | None) -> str:
    """Return the codes of a family that are neither its root nor knock-on, again ``;``-separated."""
    named = {root, *(knock_on or "").split(";")}
    return ";".join(key for key in joined.split(";") if key not in named)


def percent(share: float | None) -> str:
    """Return a share from 0 to 1 as whole per cent, or a dash where it is not known."""
    return UNKNOWN if share is None else f"{share * 100:.0f}%"


def span(low: float | None, high: float | None) -> str:
    """Return an interval of shares as "61 to 90%", or nothing where it is not known or has no width."""
    if low is None or high is None or low == high:
        return ""
    return f"{low * 100:.0f} to {high * 100:.0f}%"


def money(amount: float | None, currency: str) -> str:
    """Return an amount in units with the currency's sign or code, cents only where there are any."""
    if amount is None:
        return UNKNOWN
    number = f"{amount:,.2f}".removesuffix(".00")
    sign = _SIGNS.get(currency)
    return f"{sign}{number}" if sign else f"{number} {currency}"


def number(value: float | None) -> str:
    """Return a number with three digits that matter, or a dash."""
    return UNKNOWN if value is None else f"{value:.3g}"


def count(size: int, one: str, many: str) -> str:
    """Return "1 car" or "3 cars"."""
    return f"{size:,} {one if size == 1 else many}"


def work(action: str, part: str | None, position: str | None) -> str:
    """Return what to do in a few words, for instance "Replace wheel speed sensor, front left"."""
    if action == "recheck":
        return "Record, erase, drive, scan again"
    if action == "specialist":
        return "Hand over to a specialist"
    place = f", {position}" if position else ""
    return f"{action.capitalize()} {part or UNKNOWN}{place}"


def check(text: str | None) -> Check:
    """Take a row's ``check_first`` apart: what to look at, and whether checking before buying pays."""
    said = text or ""
    if not said.startswith(CHECK_PAYS):
        return Check(said, pays=False)
    how = said.removeprefix(CHECK_PAYS).lstrip(": ")
    return Check(how[:1].upper() + how[1:], pays=True)


def title(row: Mapping[str, Any]) -> str:
    """Return what a row of the shortlist says to do, the check before it where that pays."""
    words = work(row["action"], row["part"], row["position"])
    return f"Check, then {words[:1].lower()}{words[1:]}" if check(row["check_first"]).pays else words


def ground(basis: str | None, jobs: int | None, cleared: int | None) -> str:
    """Return in one sentence what a chance rests on."""
    if jobs:
        rests = f"{cleared or 0} of {count(jobs, 'job', 'jobs')} with this part alone cleared the codes it shared."
    else:
        rests = "No job with this part alone yet."
    leans = {
        "repairs": "Rests on own repairs",
        "pattern": "Rests on codes that come together, not on repairs",
        "code": "Rests on what the code itself names",
    }
    return f"{leans[basis]}: {rests[0].lower()}{rests[1:]}" if basis in leans else rests
