"""Why does the list say what it says about one car?  The reasoning of the last run, on the terminal."""

from __future__ import annotations

import math
from collections.abc import Iterator

import polars as pl

from analysis.diagnosis import Explanation
from analysis.texts.formatter import Formatter
from pipelines.batch.last_week import LastWeek, open_last_week
from pipelines.errors import BatchError, known_as, near
from pipelines.report.sections import Section, list_section
from pipelines.settings import load_settings
from pipelines.storage.session import reading
from pipelines.workspace import Workspace

MOST_WEIGHTS = 12
LOUD = 0.05
"""What moves the log odds by less than this is worth no line of its own."""
MOST_JOBS = 10


def reasons_for(workspace: Workspace, vehicle: str) -> list[Section]:
    """Return the reasoning about one car in stock, as the last report had it.

    Args:
        workspace: The dealer's folder; nothing in it is changed.
        vehicle: Its stock number.

    Returns:
        What to print.

    Raises:
        BatchError: There was no run yet, another run is going on, or the vehicle is not in stock; near names are
            named.
    """
    settings = load_settings(workspace.settings_file)
    with reading(workspace) as warehouse:
        last = open_last_week(workspace, settings, warehouse)
    vehicle = known_as(vehicle, last.facts["stock"]["vehicle"])
    _check_vehicle(last, workspace, vehicle)
    found = last.model.explain(vehicle, last.shortlist)
    make, model = last.facts["stock"].filter(pl.col("vehicle") == vehicle).select("make", "model").row(0)
    named = " ".join(word for word in (make, model) if word)
    title = f"{vehicle}{', ' if named else ''}{named}, as the report of {last.week} saw it"
    return [Section(title, last.notes_of(vehicle)), *_sections(found, settings.formatter)]


def _check_vehicle(last: LastWeek, workspace: Workspace, vehicle: str) -> None:
    names = last.facts["stock"]["vehicle"].to_list()
    if vehicle in names:
        return
    hint = near(vehicle, names) or f"there are {len(names)} vehicles in stock"
    raise BatchError(f"{vehicle!r} is no vehicle in stock in {workspace.root}; {hint}. Nothing was changed.")


def _sections(found: Explanation, formatter: Formatter) -> Iterator[Section]:
    yield _codes(found, formatter)
    if not found.rows.height:
        yield Section("The list", ["No line: no open code asks for a part."])
        return
    yield list_section(found.rows, formatter.currency)
    parts = found.rows.filter(pl.col("part") != "").unique(["part", "position"], keep="first", maintain_order=True)
    for row in parts.iter_rows(named=True):
        mine = (pl.col("part") == row["part"]) & (pl.col("position") == (row["position"] or ""))
        label = f"{row['rank']}. {row['part']} {row['position'] or ''}".strip()
        yield _evidence(label, found.log_odds.filter(mine), found.weights_of_evidence.filter(mine))
        yield _without(label, found.without.filter(mine))
        yield _jobs(label, found.visits.filter(mine), formatter)


def _codes(found: Explanation, formatter: Formatter) -> Section:
    rows = [
        (row["code"], row["text"] or "", row["status"] or "", formatter.day(row["first_seen"]), row["background"] or "")
        for row in found.codes.iter_rows(named=True)
    ]
    unread = ", ".join(found.unread) or "none"
    lines = [f"Not read since the last erase, so nothing is known of them: {unread}"]
    return Section("Open codes", lines, ("code", "text", "status", "since", "left alone because"), rows)


def _evidence(label: str, log_odds: pl.DataFrame, weights: pl.DataFrame) -> Section:
    """Return what moves the odds of a part, the loudest first; the rest is one row, so that the column adds up."""
    loud = weights.filter(pl.col("log_ratio").abs() >= LOUD).head(MOST_WEIGHTS)
    rest = weights.height - loud.height
    told = [(code or "-", state, ratio) for state, code, ratio in loud.select("state", "code", "log_ratio").iter_rows()]
    told += [("-", f"{rest} more", math.fsum(weights["log_ratio"]) - math.fsum(loud["log_ratio"]))] if rest else []
    rows = [
        ("for" if ratio > 0 else "against", code, state, f"{ratio:+.2f}", _times(math.exp(ratio)))
        for code, state, ratio in told
    ]
    before, after = (1 / (1 + math.exp(-log_odds[name].item())) for name in ("prior", "posterior"))
    lines = [f"at fault before anything is known of the car: {before:.1%}; after all of this: {after:.1%}"]
    head = ("side", "code", "it is", "log-ratio", "times")
    return Section(f"{label}: what speaks for and against it", lines, head, rows, (3, 4))


def _times(ratio: float) -> str:
    return f"{ratio:,.0f}" if ratio >= 10 else f"{ratio:.2g}"


def _without(label: str, moved: pl.DataFrame) -> Section:
    rows = [
        (code, f"{now:.0%}", f"{then:.0%}") for code, now, then in moved.select("code", "chance", "without").iter_rows()
    ]
    head = ("code", "chance if tried first", "without this code")
    return Section(f"{label}: if one code were absent", (), head, rows, (1, 2))


def _jobs(label: str, jobs: pl.DataFrame, formatter: Formatter) -> Section:
    rows = [
        (
            row["vehicle"], row["job"], formatter.day(row["done_at"]), row["outcome"],
            "" if row["km"] is None else f"{formatter.driven(row['km']):.0f}", row["codes"].replace(";", ", "),
        )
        for row in jobs.head(MOST_JOBS).iter_rows(named=True)
    ]  # fmt: skip
    lines = [] if rows else ["none: this rests on the wording of the codes and the company they keep"]
    lines += [f"the latest {MOST_JOBS} of {jobs.height}"] if jobs.height > MOST_JOBS else []
    head = ("vehicle", "job", "day", "outcome", formatter.unit, "codes")
    return Section(f"{label}: own jobs with this part alone", lines, head, rows, (4,))
