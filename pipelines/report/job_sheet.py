"""The sheets that a mechanic takes to the cars: one page a car, to print from a browser or as PDF.

What is written on a sheet goes into the inbox line by line: the table at its
foot has the columns of the repairs layout, in their order.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import polars as pl

from analysis.charts.job_page import Job, Repairs, all_jobs_page, job_page, jobs
from analysis.charts.page import sheet_environment
from analysis.charts.tickets import first_cars
from analysis.progress import each
from pipelines.file_names import sheet_names
from pipelines.reading.layouts import LAYOUTS
from pipelines.report.job_sheet_pdf import job_pdf

FOLDER = "jobsheets"
TOGETHER = "jobsheets.html"
"""The page with the sheets of all cars, to print at once."""
MOST_PAPERS = 1_000
"""So many sheets are made as PDF too."""
MOST_TOGETHER = 300
"""So many sheets stand on one page: nobody prints more at once, and a browser takes long to set them."""


def papers(shortlist: pl.DataFrame) -> list[str]:
    """Return the cars whose sheet is made as PDF too, the first of the list: setting one takes as long as ten pages.

    Args:
        shortlist: The columns of ``shortlist.csv``, money in units.
    """
    return first_cars(shortlist, MOST_PAPERS)


def repairs_file() -> Repairs:
    """Return what the repairs file takes, as its layout declares it."""
    columns = LAYOUTS["repairs"].columns
    return Repairs(
        [column.name for column in columns], next(column.values for column in columns if column.name == "action")
    )


def job_sheets(tables: Mapping[str, pl.DataFrame], run: Mapping[str, Any]) -> dict[str, bytes]:
    """Make the job sheets of all cars on the list.

    Args:
        tables: shortlist and open_codes as they go out, "codes" (code, text), and worse_parts where it is known.
        run: week, as_of and settings.

    Returns:
        Content by path below the report's folder: an .html a car, a .pdf for those of ``papers``, and the page of the
        first ``MOST_TOGETHER`` of the list; the same input gives the same bytes.
    """
    settings: Mapping[str, Any] = run.get("settings", {})
    repairs = repairs_file()
    names = sheet_names(tables["shortlist"]["vehicle"])
    made: dict[str, bytes] = {}
    notes = [*run.get("notes", []), *run.get("warnings", [])]
    environment, on_paper = sheet_environment({}, settings), set(papers(tables["shortlist"]))
    by_car: dict[str, Job] = {}
    for job in each(jobs(tables, settings, notes)):
        by_car[job.vehicle] = job
        place = f"{FOLDER}/{names[job.vehicle]}"
        made[f"{place}.html"] = job_page(job, run, repairs, environment).encode()
        if job.vehicle in on_paper:
            made[f"{place}.pdf"] = job_pdf(job, run, repairs)
    if by_car:
        first = [by_car[vehicle] for vehicle in first_cars(tables["shortlist"], MOST_TOGETHER)]
        made[TOGETHER] = all_jobs_page(first, len(by_car), run, repairs, environment).encode()
    return made
