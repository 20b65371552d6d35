"""What the dealer may set, each with its unit, its range and a sensible default.

``knockon.toml`` holds one line a setting.  A line that does not mean what it
should is named with its number; nothing is guessed in its place.
"""

from __future__ import annotations

import difflib
import json
import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, fields
from pathlib import Path
from zoneinfo import ZoneInfo, available_timezones

from analysis.texts.formatter import DATE_STYLES, Formatter
from pipelines.errors import SettingsError


@dataclass(frozen=True)
class Settings:
    """The settings of one workspace.

    Attributes:
        currency: ISO 4217 code; money in every table is in this currency.
        labour_rate: Cost of one hour of own labour.
        specialist_cost: Flat, all in: what handing a car over costs until it is fixed.
        cheap_limit: A row that costs no more than this in total is called cheap.
        road_test_km: Distance in km after an erase that counts as a test, where none is fitted yet.
        odometer_unit: "km" or "mi": the unit of odometers that do not say theirs, and of the distances that are told.
        time_zone: IANA name; a time without an offset is local to it.
        country: ISO 3166 code of the periodic inspection's country, "GB", "DE" or "US" for instance.
        min_vehicles: A pattern needs at least this many vehicles.
        q_value: Largest share of false rules that may be called likely.
        week_starts: "monday" or "sunday": the first day of a report's week.
        date_style: "iso" (2026-11-23), "day first" (23.11.2026) or "month first" (11/23/2026), wherever a day is
            told: on page, chart and job sheet, in the notes, and by why and trace. CSV tables and JSON stay ISO.
        csv_prefix: Text in a CSV table that a spreadsheet would take for a formula gets a leading ``'``.
        workers: Who reads files and counts pairs of codes: blank for the run itself, else a number of processes or the
            address of a Dask scheduler.
        backups_weekly: The latest snapshot of each of so many weeks is kept.
        backups_monthly: And the latest of each of so many months.
    """

    currency: str = "EUR"
    labour_rate: float = 45.0
    specialist_cost: float = 300.0
    cheap_limit: float = 60.0
    road_test_km: float = 40.0
    odometer_unit: str = "km"
    time_zone: str = "UTC"
    country: str = "DE"
    min_vehicles: int = 3
    q_value: float = 0.05
    week_starts: str = "monday"
    date_style: str = "iso"
    csv_prefix: bool = True
    workers: str = ""
    backups_weekly: int = 8
    backups_monthly: int = 12

    @property
    def zone(self) -> ZoneInfo:
        """The time zone that local times are in."""
        return ZoneInfo(self.time_zone)

    @property
    def formatter(self) -> Formatter:
        """How money, distances and days are written."""
        return Formatter.of(vars(self))

    def cents(self, name: str) -> int:
        """Return the money setting ``name`` in whole cents."""
        return round(float(getattr(self, name)) * 100)


@dataclass(frozen=True)
class _Rule:
    wanted: str
    holds: Callable[[object], bool]


def _number(low: float, high: float, unit: str) -> _Rule:
    def holds(value: object) -> bool:
        return isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high

    return _Rule(f"a number from {low:g} to {high:g} ({unit})", holds)


def _whole(low: int, high: int, unit: str) -> _Rule:
    return _Rule(
        f"a whole number from {low} to {high} ({unit})", lambda value: type(value) is int and low <= value <= high
    )


def _one_of(*names: str) -> _Rule:
    return _Rule("one of " + ", ".join(names), lambda value: value in names)


def _text(pattern: str, wanted: str) -> _Rule:
    return _Rule(wanted, lambda value: isinstance(value, str) and re.fullmatch(pattern, value) is not None)


_RULES: dict[str, _Rule] = {
    "currency": _text("[A-Z]{3}", "three capital letters like EUR"),
    "labour_rate": _number(0, 10_000, "money per hour"),
    "specialist_cost": _number(0, 1_000_000, "money, flat"),
    "cheap_limit": _number(0, 1_000_000, "money"),
    "road_test_km": _number(1, 10_000, "km"),
    "odometer_unit": _one_of("km", "mi"),
    "time_zone": _Rule("a time zone's name like Europe/Berlin", lambda value: value in available_timezones()),
    "country": _text("[A-Z]{2}", "two capital letters like DE"),
    "min_vehicles": _whole(2, 1000, "vehicles"),
    "q_value": _number(0.0001, 0.5, "a share"),
    "week_starts": _one_of("monday", "sunday"),
    "date_style": _one_of(*DATE_STYLES),
    "csv_prefix": _Rule("true or false", lambda value: isinstance(value, bool)),
    "workers": _text(
        r"|[1-9]\d{0,2}|tcp://\S+", 'blank, a number of processes like "2" or an address like tcp://host:8786'
    ),
    "backups_weekly": _whole(1, 1000, "weeks"),
    "backups_monthly": _whole(0, 1000, "months"),
}

_COMMENTS = {
    "currency": "ISO 4217 code of all money in and out",
    "labour_rate": "your own labour, per hour",
    "specialist_cost": "flat, all in: what handing a car over costs until it is fixed",
    "cheap_limit": "a fix that costs no more than this in total is called cheap",
    "road_test_km": "km after an erase that count as a test, until your own data say better",
    "odometer_unit": "km or mi: what an odometer means where its file does not say, and how the report tells distances",
    "time_zone": "for times without an offset, for instance Europe/Berlin",
    "country": "whose periodic inspection the report looks at: GB, DE, US ...",
    "min_vehicles": "a pattern needs at least this many vehicles",
    "q_value": "largest share of false rules that may be called likely",
    "week_starts": "monday or sunday",
    "date_style": "how the report writes a day: iso (2026-11-23), day first (23.11.2026) or month first (11/23/2026)",
    "csv_prefix": "a leading ' before text in the CSV tables that a spreadsheet would take for a formula",
    "workers": 'who reads files and counts pairs: blank for the run itself, a number of processes like "2", or a '
    "Dask scheduler's address; for groups of many cars, needs knockon[cluster]",
    "backups_weekly": "snapshots in backups/: the latest of each of so many weeks is kept",
    "backups_monthly": "and the latest of each of so many months",
}


def default_toml() -> str:
    """Return a commented ``knockon.toml`` that holds every default."""
    lines = ["# Settings of this workspace. A line that is missing keeps the value shown here.", ""]
    for name, value in vars(Settings()).items():
        shown = json.dumps(value) if isinstance(value, str | bool) else f"{value:g}"
        lines += [f"# {_COMMENTS[name]}", f"{name} = {shown}", ""]
    return "\n".join(lines)


def load_settings(path: Path) -> Settings:
    """Read and check ``knockon.toml``; a missing file means the defaults.

    Args:
        path: The settings file.

    Returns:
        The checked settings.

    Raises:
        SettingsError: The file is no TOML, has an unknown name or a value out of range; the message
            names file, line, what was found and what is wanted.
    """
    if not path.is_file():
        return Settings()
    try:
        text = path.read_text(encoding="utf-8-sig")
        given = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingsError(f"{path}: expected TOML text in UTF-8; {error}. Nothing was run.") from error
    known = [field.name for field in fields(Settings)]
    for name, value in given.items():
        place = f"{path}:{_line_of(name, text)}: {name}"
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            hint = f"; did you mean {near[0]}?" if near else f"; the settings are {', '.join(known)}"
            raise SettingsError(f"{place} is no setting{hint}. Nothing was run.")
        rule = _RULES[name]
        if not rule.holds(value):
            raise SettingsError(f"{place}: expected {rule.wanted}, found {value!r}. Nothing was run.")
    return Settings(**given)


def _line_of(name: str, text: str) -> int:
    found = re.search(rf'^\s*\[?"?{re.escape(name)}\b', text, flags=re.MULTILINE)
    return text.count("\n", 0, found.end()) + 1 if found else 1
