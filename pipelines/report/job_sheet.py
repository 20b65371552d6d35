"""The sheets that a mechanic takes to the cars: one page a car, to print from a browser or as PDF.

What is written on a sheet goes into the inbox line by line: the table at its
foot has the columns of the repairs layout, in their order.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping
from typing import Any

import polars as pl

from analysis.charts.job_page import job_page, jobs
from pipelines.reading.layouts import LAYOUTS
from pipelines.report.job_sheet_pdf import job_pdf

FOLDER = "jobsheets"
_LONGEST = 60
# Names that Windows keeps for devices, whatever stands behind a dot.
_DEVICES = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?")


def sheet_names(vehicles: Iterable[str]) -> dict[str, str]:
    """Give each vehicle a file name of its own, without its ending.

    Args:
        vehicles: Stock numbers, of any letters.

    Returns:
        Vehicle to a name of ``A-Z a-z 0-9 . _ -`` that begins with none of the last three.  Where the stock number
        had to be changed, is a device's name, or differs from another only by case, a mark of eight digits of its
        SHA-256 follows: the name stays the same from week to week, whatever other cars there are.
    """
    listed = sorted(set(vehicles))
    folded = [vehicle.casefold() for vehicle in listed]
    names = {}
    for vehicle in listed:
        name = re.sub(r"[^A-Za-z0-9._-]", "_", vehicle)[:_LONGEST].lstrip("._-").rstrip(".")
        if not name or name != vehicle or _DEVICES.fullmatch(name) or folded.count(vehicle.casefold()) > 1:
            name = f"{name or 'car'}-{hashlib.sha256(vehicle.encode()).hexdigest()[:8]}"
            name = f"car-{name}" if _DEVICES.fullmatch(name) else name
        names[vehicle] = name
    return names


def job_sheets(tables: Mapping[str, pl.DataFrame], run: Mapping[str, Any]) -> dict[str, bytes]:
    """Make the job sheets of all cars on the list.

    Args:
        tables: shortlist and open_codes as they go out, "codes" (code, text), and worse_parts where it is known.
        run: week, as_of and settings.

    Returns:
        Content by path below the report's folder: an .html and a .pdf a car; the same input gives the same bytes.
    """
    settings: Mapping[str, Any] = run.get("settings", {})
    columns = [column.name for column in LAYOUTS["repairs"].columns]
    names = sheet_names(tables["shortlist"]["vehicle"])
    made: dict[str, bytes] = {}
    notes = [*run.get("notes", []), *run.get("warnings", [])]
    for job in jobs(tables, settings, notes):
        place = f"{FOLDER}/{names[job.vehicle]}"
        made[f"{place}.html"] = job_page(job, run, columns).encode()
        made[f"{place}.pdf"] = job_pdf(job, run, columns)
    return made
