"""What the dealer may set, each with its unit, its range and a sensible default.

``knockon.toml`` holds one line a setting.  A line that does not mean what it
should is named with its number; nothing is guessed in its place.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, available_timezones

from pydantic import AfterValidator, ConfigDict, Field
from pydantic.dataclasses import dataclass

from analysis.texts.formatter import DATE_STYLES, Formatter
from pipelines.habits import Habits
from pipelines.toml_file import TomlFile, unwanted, wanted

Number = int | float
"""A whole number stays one: 45 is not written back as 45.0."""


def _number(low: float, high: float, unit: str, comment: str) -> Any:
    words = f"a number from {low:g} to {high:g} ({unit})"
    return Field(ge=low, le=high, description=comment, json_schema_extra=wanted(words))


def _whole(low: int, high: int, unit: str, comment: str) -> Any:
    words = f"a whole number from {low} to {high} ({unit})"
    return Field(ge=low, le=high, description=comment, json_schema_extra=wanted(words))


def _text(pattern: str, words: str, comment: str) -> Any:
    return Field(pattern=rf"\A({pattern})\z", description=comment, json_schema_extra=wanted(words))


def _other(words: str, comment: str) -> Any:
    return Field(description=comment, json_schema_extra=wanted(words))


def _known_zone(name: str) -> str:
    if name not in available_timezones():
        raise unwanted()
    return name


@dataclass(frozen=True, config=ConfigDict(strict=True, extra="forbid"))
class Settings:
    """The settings of one workspace, each with its range and its comment; money is in ``currency``."""

    currency: Annotated[
        str, _text("[A-Z]{3}", "three capital letters like EUR", "ISO 4217 code of all money in and out")
    ] = "EUR"
    labour_rate: Annotated[Number, _number(0, 10_000, "money per hour", "your own labour, per hour")] = 45.0
    specialist_cost: Annotated[
        Number,
        _number(0, 1_000_000, "money, flat", "flat, all in: what handing a car over costs until it is fixed"),
    ] = 300.0
    cheap_limit: Annotated[
        Number, _number(0, 1_000_000, "money", "a fix that costs no more than this in total is called cheap")
    ] = 60.0
    least_chance: Annotated[
        Number,
        _number(0, 1, "a share", "no car's first line fits a part straight away that clears its codes less often"),
    ] = 0.25
    road_test_km: Annotated[
        Number, _number(1, 10_000, "km", "km after an erase that count as a test, until your own data say better")
    ] = 40.0
    odometer_unit: Annotated[
        Literal["km", "mi"],
        _other(
            "one of km, mi",
            "km or mi: what an odometer means where its file does not say, and how the report tells distances",
        ),
    ] = "km"
    time_zone: Annotated[
        str,
        AfterValidator(_known_zone),
        _other("a time zone's name like Europe/Berlin", "for times without an offset, for instance Europe/Berlin"),
    ] = "UTC"
    date_order: Annotated[
        Literal["as told", "day first", "month first"],
        _other(
            "one of as told, day first, month first",
            "how a table with dates like 03/04/2026 is read where nothing in it tells: as told (it is asked, and "
            "the file waits), day first or month first",
        ),
    ] = "as told"
    decimal_mark: Annotated[
        Literal["as told", "point", "comma"],
        _other(
            "one of as told, point, comma",
            "the decimal mark of a table with numbers like 1,250 where nothing in it tells: as told (it is asked), "
            "point or comma",
        ),
    ] = "as told"
    country: Annotated[
        str,
        _text(
            "[A-Z]{2}",
            "two capital letters like DE",
            "whose periodic inspection the report looks at: GB, DE, US ...",
        ),
    ] = "DE"
    min_vehicles: Annotated[int, _whole(2, 1000, "vehicles", "a pattern needs at least this many vehicles")] = 3
    q_value: Annotated[
        Number, _number(0.0001, 0.5, "a share", "largest share of false rules that may be called likely")
    ] = 0.05
    must_clear: Annotated[
        Literal["all", "inspection"],
        _other(
            "one of all, inspection",
            "which codes have to go: all that a fault sets, or those alone that can light a lamp of the periodic "
            "inspection or belong to brakes, steering, airbags or high voltage",
        ),
    ] = "all"
    week_starts: Annotated[Literal["monday", "sunday"], _other("one of monday, sunday", "monday or sunday")] = "monday"
    date_style: Annotated[
        Literal["iso", "day first", "day first with slashes", "month first"],
        _other(
            "one of " + ", ".join(DATE_STYLES),
            "how the report writes a day: iso (2026-11-23), day first (23.11.2026), day first with slashes "
            "(23/11/2026) or month first (11/23/2026)",
        ),
    ] = "iso"
    csv_prefix: Annotated[
        bool,
        _other(
            "true or false",
            "a leading ' before text in the CSV tables that a spreadsheet would take for a formula",
        ),
    ] = True
    workers: Annotated[
        str,
        _text(
            r"|[1-9]\d{0,2}|tcp://\S+",
            'blank, a number of processes like "2" or an address like tcp://host:8786',
            'who reads files and counts pairs: blank for the run itself, a number of processes like "2", or a '
            "Dask scheduler's address; for groups of many cars, needs knockon[cluster]",
        ),
    ] = ""
    backups_weekly: Annotated[
        int, _whole(1, 1000, "weeks", "snapshots in backups/: the latest of each of so many weeks is kept")
    ] = 8
    backups_monthly: Annotated[int, _whole(0, 1000, "months", "and the latest of each of so many months")] = 12

    @property
    def zone(self) -> ZoneInfo:
        """The time zone that local times are in."""
        return ZoneInfo(self.time_zone)

    @property
    def formatter(self) -> Formatter:
        """How money, distances and days are written."""
        return Formatter.of(vars(self))

    @property
    def habits(self) -> Habits:
        """How tables that cannot tell themselves are written."""
        return Habits(
            None if self.date_order == "as told" else self.date_order,
            None if self.decimal_mark == "as told" else self.decimal_mark,
        )

    def cents(self, name: str) -> int:
        """Return the money setting ``name`` in whole cents."""
        return round(float(getattr(self, name)) * 100)


FIELDS = Settings.__pydantic_fields__  # type: ignore[attr-defined]


def default_toml() -> str:
    """Return a commented ``knockon.toml`` that holds every default."""
    lines = ["# Settings of this workspace. A line that is missing keeps the value shown here.", ""]
    for name, value in vars(Settings()).items():
        shown = json.dumps(value) if isinstance(value, str | bool) else f"{value:g}"
        lines += [f"# {FIELDS[name].description}", f"{name} = {shown}", ""]
    return "\n".join(lines)


def changed_toml(text: str, values: Mapping[str, str | float]) -> str:
    """Return the text of a ``knockon.toml`` with some settings changed, everything else as it stands.

    Args:
        text: The file as it is.
        values: Name of each setting to what it is to be.
    """
    lines = text.splitlines()
    for name, value in values.items():
        line = f"{name} = {json.dumps(value, ensure_ascii=False) if isinstance(value, str) else format(value, 'g')}"
        at = next((place for place, old in enumerate(lines) if re.match(rf"\s*{name}\s*=", old)), None)
        if at is None:
            lines.append(line)
        else:
            lines[at] = line
    return "\n".join(lines) + "\n"


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
    given = TomlFile(path, str(path))
    return given.held_to(Settings, FIELDS, "setting", f"the settings are {', '.join(FIELDS)}")
