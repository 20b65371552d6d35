"""What the files say of one car and code: scans, readings, jobs and masks, each with the rows that say it.

Only what was read stands here, as the database has them; what was concluded from them is ``derived_values``'.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from analysis.vocabulary.failure_types import failure_type_meaning
from pipelines.lineage.source_files import Place, SourceFiles
from pipelines.storage.warehouse import Warehouse

Record = dict[str, Any]
"""What JSON can hold: texts, numbers, lists and mappings by name."""

_SCANS = """
with sightings as (
    select scanned_at, named_by from core.standing_sightings where vehicle = $vehicle and code = $code
)
select scans.scanned_at, scans.odometer,
    coalesce(list(readings.module order by readings.module) filter (where readings.module is not null), []) as modules,
    bool_or(readings.complete) filter (where readings.module = $module) as complete,
    any_value(readings.asked) filter (where readings.module = $module) as asked,
    coalesce(
        (select arg_max(named_by, scanned_at) from sightings where sightings.scanned_at < scans.scanned_at),
        (select arg_min(named_by, scanned_at) from sightings), ['active', 'stored']
    ) as named_by,
    any_value(findings.present) as present, any_value(findings.status) as status,
    any_value(findings.failure_type) as failure_type
from core.scans as scans
left join core.readings as readings on readings.scan_id = scans.scan_id
left join core.findings as findings on findings.scan_id = scans.scan_id and findings.code = $code
where scans.vehicle = $vehicle
group by scans.scan_id, scans.scanned_at, scans.odometer
order by scans.scanned_at
"""
_SCAN_ROWS = """
select scanned_at, file_id, row, code = $code as of_code, silent
from staging.scan_rows where vehicle = $vehicle and module = $module order by scanned_at, file_id, row
"""
_JOBS = """
select jobs.job_id, jobs.job, jobs.done_at, jobs.odometer, jobs.erased, outcomes.outcome, outcomes.km_proven,
    outcomes.km_to_return, outcomes.days_to_return, outcomes.cleared_chance
from core.jobs as jobs
left join core.job_windows as windows on windows.job_id = jobs.job_id
left join core.outcomes as outcomes on outcomes.job_id = windows.spoken_by and outcomes.code = $code
where jobs.vehicle = $vehicle order by jobs.job_id
"""
_WORK = """
select job, file_id, row, action, part, position
from staging.repair_rows where vehicle = $vehicle order by job, file_id, row
"""
_MASK = "select reason, until_day from core.masked_codes where vehicle = $vehicle and code = $code"
_MASK_ROWS = """
select background.file_id, background.row
from staging.background as background
join core.vehicle_codes as codes on codes.vehicle = $vehicle and codes.code = $code
where (background.vehicle is null or background.vehicle = codes.vehicle)
    and (background.make_key is null or background.make_key = codes.make_key)
    and (background.module is null or background.module = codes.module)
    and (background.short is null or background.short = codes.short)
order by file_id, row
"""
_STOCK_ROW = "select file_id, row from raw.stock where vehicle = $vehicle order by file_id desc, row desc limit 1"


class Rows:
    """Says where rows stand, in words, and keeps note of every file that was named."""

    def __init__(self, files: SourceFiles) -> None:
        """Name rows of an archive's files."""
        self._files = files
        self._names = defaultdict(set)
        for file in files.files.values():
            self._names[file.name].add(file.sha256)
        self._named: dict[int, set[int]] = defaultdict(set)

    def named(self, layout: str, places: Iterable[Place]) -> list[Record]:
        """Return file and row of each place, with the other files that hold the same row.

        ``found`` is false where the archived file no longer shows the row at its place.
        """
        listed = list(dict.fromkeys(places))
        held = self._files.elsewhere(layout, listed)
        facts = []
        for place in listed:
            file_id, row = place
            self._named[file_id].add(row)
            also = [self.words(other) for other in held[place] if other != place]
            facts.append({"place": self.words(place), "row": row, "found": place in held[place], "also_in": also})
        return facts

    def words(self, place: Place) -> str:
        """Return a place in words, ``scans/november.csv row 12``; with part of its hash where files share a name."""
        file = self._files.files[place[0]]
        twice = f" ({file.sha256[:8]})" if len(self._names[file.name]) > 1 else ""
        return f"{file.name}{twice} row {place[1]}"

    def files(self) -> list[Record]:
        """Return every file that was named, with where it is archived and which of its rows were named."""
        found = []
        for file_id in sorted(self._named):
            file = self._files.files[file_id]
            path = self._files.path(file)
            found.append(
                {
                    "name": file.name,
                    "sha256": file.sha256,
                    "loaded_for_week": file.week,
                    "archived_as": path and f"archive/{file.layout}/{path.name}",
                    "state": self._files.state(file),
                    "rows": sorted(self._named[file_id]),
                }
            )
        return found


def scans(warehouse: Warehouse, rows: Rows, vehicle: str, module: str, code: str) -> list[Record]:
    """Return every scan of the car: which modules answered, what it says of the code, and the rows that say it.

    Args:
        warehouse: The open database.
        rows: Names the rows.
        vehicle: The car.
        module: The code's module.
        code: The code's key.
    """
    wanted = {"vehicle": vehicle, "module": module, "code": code}
    at: dict[object, list[tuple[Place, bool, bool]]] = defaultdict(list)
    for scanned_at, file_id, row, of_code, silent in warehouse.query(_SCAN_ROWS, wanted).iter_rows():
        at[scanned_at].append(((file_id, row), bool(of_code), silent))
    telling = {when: [each for each in held if each[1]] or held for when, held in at.items()}
    named = {
        fact["place"]: fact for fact in rows.named("scans", [each[0] for held in telling.values() for each in held])
    }
    found = []
    for scan in warehouse.query(_SCANS, wanted).iter_rows(named=True):
        held = telling.get(scan["scanned_at"], [])
        silent = bool(held) and all(each[2] for each in held)
        found.append(
            {
                "scanned_at": f"{scan['scanned_at']:%Y-%m-%d %H:%M:%S}",
                "odometer_km": scan["odometer"],
                "modules_read": scan["modules"],
                "code_is": _what_the_scan_says(scan, silent),
                "status": scan["status"],
                "failure": failure_type_meaning(scan["failure_type"]) if scan["failure_type"] else None,
                "rows": [named[rows.words(each[0])] for each in held],
            }
        )
    return found


def _what_the_scan_says(scan: Record, silent: bool) -> str:
    if scan["present"] is not None:
        return "present" if scan["present"] else "listed, its status says no fault"
    if scan["complete"] is None:
        return "unknown: the module did not answer" if silent else "unknown: the module was not read"
    if not scan["complete"]:
        return "unknown: a row of the module could not be read"
    if not {*scan["asked"]} & {*scan["named_by"]}:
        return f"unknown: the module was asked for {' and '.join(scan['asked'])} codes only"
    return "absent"


def jobs(warehouse: Warehouse, rows: Rows, vehicle: str, code: str) -> list[Record]:
    """Return every job on the car: what was done, what became of the code, and the rows that say it."""
    wanted = {"vehicle": vehicle, "code": code}
    work: dict[str, list[tuple[Place, str]]] = defaultdict(list)
    for job, file_id, row, *done in warehouse.query(_WORK, {"vehicle": vehicle}).iter_rows():
        work[job].append(((file_id, row), " ".join(word for word in done if word)))
    found = []
    for job in warehouse.query(_JOBS, wanted).iter_rows(named=True):
        done = work[job["job"]]
        found.append(
            {
                "job": job["job"],
                "done_at": f"{job['done_at']:%Y-%m-%d}",
                "odometer_km": job["odometer"],
                "work": [words for _, words in done],
                "erased": job["erased"],
                "outcome": job["outcome"],
                "km": job["km_to_return"] if job["outcome"] in ("returned", "recurred") else job["km_proven"],
                "days_to_return": job["days_to_return"],
                "cleared_chance": None if job["cleared_chance"] is None else round(job["cleared_chance"], 4),
                "rows": rows.named("repairs", [place for place, _ in done]),
            }
        )
    return found


def job_rows(warehouse: Warehouse, rows: Rows, vehicle: str, job: str) -> list[Record]:
    """Return the rows of one job of any car."""
    found = warehouse.query(_WORK, {"vehicle": vehicle}).iter_rows()
    return rows.named("repairs", [(file_id, row) for name, file_id, row, *_ in found if name == job])


def mask(warehouse: Warehouse, rows: Rows, vehicle: str, code: str) -> Record | None:
    """Return why the code is masked on this car, until when, and the rows that say so; None where it counts."""
    wanted = {"vehicle": vehicle, "code": code}
    for reason, until in warehouse.query(_MASK, wanted).iter_rows():
        told = rows.named("background", warehouse.query(_MASK_ROWS, wanted).rows())
        if not told and reason.startswith("modification"):
            told = stock_row(warehouse, rows, vehicle)
        return {"reason": reason, "until": None if until.year == 9999 else until.isoformat(), "rows": told}
    return None


def stock_row(warehouse: Warehouse, rows: Rows, vehicle: str) -> list[Record]:
    """Return the row of the stock list that counts for the car, or none."""
    return rows.named("stock", warehouse.query(_STOCK_ROW, {"vehicle": vehicle}).rows())
