"""A car's job sheet as one HTML page for the printer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from analysis.charts.job import Job
from analysis.charts.page import sheet_environment
from analysis.texts import job_sheet

BLANK_LINES = 6


def job_page(job: Job, run: Mapping[str, Any], columns: Sequence[str]) -> str:
    """Return a job sheet as HTML.

    Args:
        job: The car's sheet.
        run: week, as_of and settings, as the report's page takes them.
        columns: Names of the columns of the repairs layout, in order: the table to fill has the same.

    Returns:
        A page that fetches nothing and runs nothing; the same input gives the same text.
    """
    settings: Mapping[str, Any] = run.get("settings", {})
    template = sheet_environment({}, settings).get_template("job.html.j2")
    filled = {"vehicle": job.vehicle, "odometer_unit": settings.get("odometer_unit", "km")}
    return template.render(job=job, run=run, columns=columns, filled=filled, lines=BLANK_LINES, sheet=job_sheet)
