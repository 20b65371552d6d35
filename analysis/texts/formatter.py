"""How this dealer writes money, distances and days: currency, km or miles, and the style of dates."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from analysis.texts.words import UNKNOWN

_SIGNS = {"EUR": "€", "GBP": "£", "USD": "$"}
_KM_PER_MILE = 1.609344
# Day, day and month alone, month alone; the same marks are read by the charts' axes.
_DATES = {
    "iso": ("%Y-%m-%d", "%m-%d", "%Y-%m"),
    "day first": ("%d.%m.%Y", "%d.%m.", "%m.%Y"),
    "day first with slashes": ("%d/%m/%Y", "%d/%m", "%m/%Y"),
    "month first": ("%m/%d/%Y", "%m/%d", "%m/%Y"),
}
DATE_STYLES = tuple(_DATES)


@dataclass(frozen=True)
class Formatter:
    """How this dealer writes money, distances and days.

    Attributes:
        currency: ISO 4217 code.
        unit: "km" or "mi".
        dates: "iso", "day first", "day first with slashes" or "month first".
    """

    currency: str = ""
    unit: str = "km"
    dates: str = "iso"

    @classmethod
    def of(cls, settings: Mapping[str, Any]) -> Formatter:
        """Take what the settings say of it: currency, odometer_unit and date_style."""
        unit, dates = settings.get("odometer_unit", cls.unit), settings.get("date_style", cls.dates)
        return cls(str(settings.get("currency", "")), str(unit), str(dates))

    @property
    def day_format(self) -> str:
        """How a day is written, in the marks of ``strftime``."""
        return _DATES[self.dates][0]

    @property
    def month_format(self) -> str:
        """How a month is written, in the marks of ``strftime``."""
        return _DATES[self.dates][2]

    def money(self, amount: float | None) -> str:
        """Return an amount in units with the currency's sign or code, cents only where there are any."""
        if amount is None:
            return UNKNOWN
        return self.money_pattern.format(amount=f"{amount:,.2f}".removesuffix(".00"))

    def round_money(self, amount: float | None) -> str:
        """Return an amount without cents, for sums and asking prices."""
        return UNKNOWN if amount is None else self.money_pattern.format(amount=f"{round(amount):,}")

    @property
    def money_pattern(self) -> str:
        """How an amount is written: ``{amount}`` with the currency's sign before it or its code behind it."""
        sign = _SIGNS.get(self.currency)
        return f"{sign}{{amount}}" if sign else f"{{amount}} {self.currency}".rstrip()

    def driven(self, km: float) -> float:
        """Return a distance in this dealer's unit."""
        return km if self.unit == "km" else km / _KM_PER_MILE

    def distance(self, km: float) -> str:
        """Return a distance as whole km or miles, rounded up: it is one to drive at least."""
        return f"{math.ceil(round(self.driven(km), 6)):,}\N{NO-BREAK SPACE}{self.unit}"

    def day(self, day: date | datetime | str | None) -> str:
        """Return a day, or an ISO text of one, as the dealer writes days; a dash where it is not known."""
        if day is None:
            return UNKNOWN
        known = date.fromisoformat(day) if isinstance(day, str) else day
        return known.strftime(self.day_format)

    def month(self, day: date) -> str:
        """Return the month of a day."""
        return day.strftime(self.month_format)

    def short_day(self, day: date | datetime) -> str:
        """Return day and month alone, for narrow columns."""
        return day.strftime(_DATES[self.dates][1])


PLAIN = Formatter()
"""Where no settings are known: km, ISO days, money without a sign."""
