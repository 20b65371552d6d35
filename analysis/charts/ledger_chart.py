"""The ledger by month: what first lines had promised, and what came of them; and its chart."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import altair as alt
import polars as pl

from analysis.charts import theme
from analysis.texts import ledger_text as say
from analysis.texts.formatter import PLAIN, Formatter

MOST_MONTHS = 12


@dataclass(frozen=True, kw_only=True)
class Month:
    """One month.

    Attributes:
        month: Its first day.
        jobs: Jobs on cars that stood on a list.
        followed: Jobs that did what the first line said.
        promised: How many of the proven ones should have worked, by the chances given.
        worked, came_back, unproven: What came of them.
        cost: What they cost, in units; what no job tells counts nothing.
        in_vain: What the parts cost after which the codes came back.
        vain_parts: How many parts those are: a drive without a part is bought from nobody.
        vain_suppliers: Who delivered them, each with how many.
    """

    month: date
    jobs: int
    followed: int
    promised: float
    worked: int
    came_back: int
    unproven: int
    cost: float
    in_vain: float
    vain_parts: int
    vain_suppliers: list[tuple[str, int]]


def months(ledger: pl.DataFrame) -> list[Month]:
    """Add up the rows of ``ledger.csv`` by month, the latest ``MOST_MONTHS``, the latest first."""
    found = []
    for (month,), rows in ledger.sort("month", "vehicle", "job").group_by("month", maintain_order=True):
        done = rows.filter("followed")
        proven = done.filter(pl.col("outcome") != say.NOT_PROVEN)
        vain = done.filter(pl.col("outcome") == say.CAME_BACK)
        bought = vain.filter(pl.col("part_cost").is_not_null() | pl.col("supplier").is_not_null())
        # Those without a supplier are named last, so that the counts add up to the parts.
        by = bought.group_by("supplier").len().sort("supplier", nulls_last=True)
        found.append(
            Month(
                month=month,
                jobs=rows.height,
                followed=done.height,
                promised=float(proven["chance"].sum()),
                worked=proven.height - vain.height,
                came_back=vain.height,
                unproven=done.height - proven.height,
                cost=float(done["part_cost"].sum()) + float(done["labour_cost"].sum()),
                in_vain=float(vain["part_cost"].sum()),
                vain_parts=bought.height,
                vain_suppliers=[(name or say.FROM_NOBODY, int(times)) for name, times in by.iter_rows()],
            )
        )
    return found[-MOST_MONTHS:][::-1]


def ledger_chart(ledger: pl.DataFrame, formatter: Formatter = PLAIN) -> dict[str, Any] | None:
    """Draw what was promised beside what worked, month by month.

    Args:
        ledger: The columns of ``ledger.csv``.
        formatter: How the dealer writes months.

    Returns:
        A Vega-Lite specification, or None where no outcome is proven yet.
    """
    known = [month for month in months(ledger) if month.worked + month.came_back]
    if not known:
        return None
    rows = [
        {
            "month": month.month.strftime(formatter.month_format),
            "place": month.month.isoformat(),
            "what": what,
            "jobs": jobs,
        }
        for month in known
        for what, jobs in ((say.PROMISED, month.promised), (say.WORKED, float(month.worked)))
    ]
    names = [say.PROMISED, say.WORKED]
    chart = (
        alt.Chart(pl.DataFrame(rows))
        .mark_bar(aria=False, height=11, cornerRadius=2)
        .encode(
            y=alt.Y("month:N", title=None, sort=alt.EncodingSortField("place", order="descending")),
            yOffset=alt.YOffset("what:N", sort=names),
            x=alt.X("jobs:Q", title=say.CHART_JOBS, axis=alt.Axis(tickMinStep=1)),
            color=alt.Color("what:N", title=None, scale=alt.Scale(domain=names, range=[theme.SHEET, theme.MAIN])),
            stroke=alt.StrokeValue(theme.MAIN),
            tooltip=[
                alt.Tooltip("month:N", title=say.MONTH), alt.Tooltip("what:N", title=say.WHAT),
                alt.Tooltip("jobs:Q", title=say.JOBS, format=".3~g"),
            ],
        )
    )  # fmt: skip
    return theme.spec(chart.properties(width="container", height=40 * len(known)), say.described(len(known)))
