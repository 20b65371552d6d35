"""The week: run it and watch, read its report and those before, plan it, keep it safe, see what went wrong."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from datetime import UTC, datetime
from datetime import time as clock_time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.responses import PlainTextResponse, RedirectResponse, Response

from analysis.texts import desk_week_text as say
from analysis.texts.desk_file_text import as_what
from pipelines.desk import figures_page, taking_in
from pipelines.desk.desk import Desk
from pipelines.desk.question import Asked
from pipelines.desk.render import page, piece
from pipelines.errors import BatchError
from pipelines.workspace import Workspace, private_folder

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from pipelines.batch.schedule import Plan
    from pipelines.storage.snapshots import Snapshot

_WEEKS_SHOWN = 60
_LOG_LINES = 400
_NOTES_SHOWN = 12
_BACKUPS_SHOWN = 12
_FIRST_PLAN = ("monday", "06:00")


def show(desk: Desk, asked: Asked) -> Response:
    """Show the run, the report of a week, plan, backups, space and log."""
    from pipelines.batch.schedule import DAYS, autostart
    from pipelines.storage.snapshots import snapshots

    weeks = weeks_of(desk.workspace)
    week = asked.query.get("week", weeks[0] if weeks else "")
    if week and week not in weeks:
        raise BatchError(say.NO_REPORT)
    progress = desk.run.progress
    result = progress.result if progress else {}
    planned = _planned(desk)
    plan = planned or _plan(desk, *_FIRST_PLAN)
    told = {system: list(autostart(system, desk.workspace, plan)) for system in say.SYSTEMS}
    backups = [
        {
            "name": one.name,
            "day": one.day,
            "time": _time_of(one, desk.settings.zone),
            "why": say.REASONS.get(one.reason, one.reason),
        }
        for one in reversed(snapshots(desk.workspace)[-_BACKUPS_SHOWN:])
    ]
    return page(
        desk, "week", run=progress, running=desk.run.running, weeks=weeks, week=week,
        tray=_on_tray(desk), done=bool(result), counts=_counts(desk, result),
        notes=list(result.get("notes", []))[:_NOTES_SHOWN], failed=_failed(desk), days=DAYS,
        plan=plan, plan_at=f"{plan.at:%H:%M}",
        planned=str(planned) if planned else "", waits_not=desk.waiter.why,
        next_due=f"{plan.next_due(datetime.now(UTC)):%Y-%m-%d %H:%M}", autostart=told, backups=backups,
        figures=figures_page.shown(desk.settings),
        sheets=_all_sheets(desk.workspace, week), space=_space(desk.workspace),
        log=_last_log(desk.workspace) is not None,
    )  # fmt: skip


def _all_sheets(workspace: Workspace, week: str) -> str:
    """Return the name of the page with all job sheets of a week; blank where the week has none."""
    from pipelines.report.job_sheet import TOGETHER

    return TOGETHER if week and (workspace.reports / week / TOGETHER).is_file() else ""


def _on_tray(desk: Desk) -> dict[str, Any]:
    """Return what was dropped and is not taken in, and how much of it can be: a run reads none of it."""
    from pipelines.desk.look import look

    looks = [look(desk.workspace, file) for file in desk.tray.files()]
    ready = [one for one in looks if one.ready]
    told = [as_what(one.file.name, one.found.table or "") for one in ready]
    return {"names": [one.file.name for one in looks], "ready": len(ready), "as_what": told}


def _counts(desk: Desk, result: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """Return what the run read and found; what was taken in for its week before it counts too, zeros are left out."""
    from pipelines.batch.summary import summary_rows
    from pipelines.storage.undo import taken_in

    if not result:
        return []
    counts = dict(result.get("counts", {}))
    try:
        with desk.looking() as warehouse:
            files = [file for file in taken_in(warehouse) if file.week == result.get("week")]
    except BatchError:  # another run holds it: then as the run itself said
        files = []
    if files:
        counts["files_read"] = len(files)
        counts["rows_loaded"] = sum(file.rows_loaded for file in files)
        counts["rows_repeated"] = sum(file.rows_repeated for file in files)
    return [row for row in summary_rows(counts) if row[0] != "0"]


def _time_of(made: Snapshot, zone: ZoneInfo) -> str:
    """Return when a backup was written, hour and minute; blank where its folder does not tell."""
    try:
        return f"{datetime.fromtimestamp(made.folder.stat().st_mtime, zone):%H:%M}"
    except OSError:
        return ""


def weeks_of(workspace: Workspace) -> list[str]:
    """Return the weeks that have a report, the latest first."""
    found = [path.parent.name for path in workspace.reports.glob("????-W??/index.html")]
    return sorted(found, reverse=True)[:_WEEKS_SHOWN]


def now(desk: Desk, _asked: Asked) -> Response:
    """Show how far the run is."""
    return piece(desk, "now", run=desk.run.progress, running=desk.run.running)


def run(desk: Desk, asked: Asked) -> Response:
    """Start the week's run, what is on the tray taken in first where that is wished."""
    if asked.form["take"]:
        taking_in.take(desk, asked)
    with desk.turn(), desk.workspace.lock():
        pass  # another run is said here, not in a report that never comes
    desk.run.start(desk.workspace, desk.today())
    return RedirectResponse("/week", 303)


def _failed(desk: Desk) -> list[str]:
    """Return why the last runs left no report, this desk's own first."""
    from pipelines.batch.run_journal import CUT_SHORT, record_of

    progress = desk.run.progress
    own = [progress.why] if progress and progress.ended and progress.why else []
    if own or desk.run.running:
        return own
    try:
        entries = json.loads(record_of(desk.workspace).read_text(encoding="utf-8"))
        return [f"{entry['began']}: {entry.get('why') or CUT_SHORT}" for entry in entries][-3:]
    except (OSError, ValueError, TypeError, KeyError):
        return []


def _last_log(workspace: Workspace) -> Path | None:
    from pipelines.batch.run_journal import logs_of

    return max(logs_of(workspace).glob("????-??-??-*.log"), default=None)


def log(desk: Desk, _asked: Asked) -> Response:
    """Send the end of the last run's log, as plain text."""
    path = _last_log(desk.workspace)
    lines = path.read_text(encoding="utf-8", errors="replace").splitlines() if path else [say.NO_LOG]
    return PlainTextResponse("\n".join(lines[-_LOG_LINES:]))


def plan(desk: Desk, asked: Asked) -> Response:
    """Plan the run for a day and time of each week, or no longer."""
    place = _plan_file(desk.workspace)
    if asked.form["end"]:
        place.unlink(missing_ok=True)
        desk.waiter.end()
        desk.tell(say.PLAN_ENDED)
        return RedirectResponse("/week", 303)
    chosen = _plan(desk, asked.form["day"], asked.form["at"])
    private_folder(place.parent)
    fresh = place.with_suffix(".new")
    fresh.write_text(json.dumps({"day": chosen.day, "at": f"{chosen.at:%H:%M}"}), encoding="utf-8")
    fresh.replace(place)
    desk.waiter.begin(desk.workspace, chosen, desk.today)
    desk.tell(f"{say.PLANNED}{chosen}")
    return RedirectResponse("/week", 303)


def resume(desk: Desk) -> None:
    """Go on with the plan of an earlier start."""
    if desk.begun:
        try:
            planned = _planned(desk)
        except BatchError:
            return
        if planned is not None:
            desk.waiter.begin(desk.workspace, planned, desk.today)


def _plan_file(workspace: Workspace) -> Path:
    return workspace.state / "desk" / "plan.json"


def _planned(desk: Desk) -> Plan | None:
    try:
        told = json.loads(_plan_file(desk.workspace).read_text(encoding="utf-8"))
        return _plan(desk, str(told["day"]), str(told["at"]))
    except (OSError, ValueError, KeyError, TypeError, BatchError):
        return None


def _plan(desk: Desk, day: str, at: str) -> Plan:
    from pipelines.batch.schedule import DAYS, Plan

    try:
        when = clock_time.fromisoformat(at)
    except ValueError as error:
        raise BatchError(say.NO_DAY) from error
    if day not in DAYS or when.tzinfo is not None or len(at) != len("06:00"):
        raise BatchError(say.NO_DAY)
    return Plan(day, when, desk.settings.zone)


def backup(desk: Desk, _asked: Asked) -> Response:
    """Write a checked snapshot, as ``backup`` does."""
    from pipelines.storage.snapshots import ASKED, write_snapshot

    with desk.changing() as warehouse:
        made = write_snapshot(desk.workspace, warehouse, desk.today(), ASKED)
    desk.tell(say.backed_up(made.name))
    return RedirectResponse("/week", 303)


def restore(desk: Desk, asked: Asked) -> Response:
    """Put a snapshot in the database's place, as ``restore`` does."""
    from pipelines.storage.restore import restore as restored
    from pipelines.storage.snapshots import snapshots

    name = asked.form["name"]
    if name not in {one.name for one in snapshots(desk.workspace)}:
        raise BatchError(say.NO_BACKUP)
    with desk.turn():
        done = restored(desk.workspace, name)
    desk.tell(say.restored(done.snapshot.name, done.rows, done.again))
    for sentence in [*done.notes, *done.lacking]:
        desk.tell(sentence, good=False)
    return RedirectResponse("/week", 303)


def _space(workspace: Workspace) -> list[dict[str, Any]]:
    """Return what each part of the workspace takes, the largest first."""
    sizes = {name: _bytes_of(workspace.root / name) for name in say.SPACE_OF}
    ranked = sorted(sizes.items(), key=lambda one: -one[1])
    return [{"what": say.SPACE_OF[name], "size": say.size(size)} for name, size in ranked if size]


def _bytes_of(path: Path) -> int:
    if path.is_file():
        return path.stat().st_size
    total = 0
    for folder, _, names in os.walk(path):
        for name in names:
            try:
                total += (Path(folder) / name).lstat().st_size
            except OSError:  # gone in the meantime
                continue
    return total
