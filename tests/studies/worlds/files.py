"""Writes a drawn dealer as the files that a dealer has: scans, stock, repairs and the price book.

Nothing of the truth is in them.  ``declared`` writes what equipment and quirks set as codes to look past, so that the
same dealer can be judged with everything declared.
"""

import csv
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from tests.studies.worlds.codes import modules
from tests.studies.worlds.drawing import Dealer
from tests.studies.worlds.faults import BY_NAME
from tests.studies.worlds.life import ALONE
from tests.studies.worlds.scanning import Found, Scan
from tests.studies.worlds.workshop import Job

Row = dict[str, str]

SCAN_COLUMNS = [
    *("vehicle", "scanned_at", "odometer", "odometer_unit", "module", "module_state", "asked", "code", "status"),
    *("occurrences", "first_odometer", "text", "km_since_erase", "monitors_ready"),
]
STOCK_COLUMNS = [
    *("vehicle", "make", "model", "model_year", "fuel", "bought_on", "sold_on", "modifications"),
]
REPAIR_COLUMNS = [
    *("vehicle", "job", "done_at", "odometer", "odometer_unit", "action", "part", "position", "supplier", "part_cost"),
    *("labour_minutes", "note"),
]
PART_COLUMNS = ["part", "also_called", "part_cost", "labour_minutes", "check_minutes", "supplier"]
BACKGROUND_COLUMNS = ["vehicle", "make", "module", "code", "reason"]

SETTINGS = (
    'currency = "EUR"\nlabour_rate = 45\nspecialist_cost = 300\ncheap_limit = 60\ntime_zone = "UTC"\ncountry = "DE"\n'
)
BYTES = {"active": "2F", "pending": "27", "confirmed": "28", "history": "08"}
"""ISO 14229-1 status bytes: failed now and confirmed; failed now only; confirmed, failed since the erase; confirmed."""
SPOILT = (("scanned_at", "31/31/26"), ("code", "PO3O1"), ("odometer", "84 5OO"), ("module", ""))


@dataclass(kw_only=True)
class Inbox:
    """The rows of each table, and those among the scans' that cannot be read.

    Attributes:
        scans: By file's name.
        refused: The rows of ``scans`` that were spoilt.
    """

    scans: dict[str, list[Row]] = field(default_factory=lambda: defaultdict(list))
    stock: list[Row] = field(default_factory=list)
    repairs: list[Row] = field(default_factory=list)
    parts: list[Row] = field(default_factory=list)
    background: list[Row] = field(default_factory=list)
    refused: list[Row] = field(default_factory=list)


def inbox_of(dealer: Dealer, declared: bool = False) -> Inbox:
    """Return all rows of a dealer.

    Args:
        dealer: What was drawn.
        declared: Write all equipment into the stock list, and its codes and quirks as codes to look past.
    """
    inbox, rng = Inbox(), np.random.default_rng([dealer.seed, 30])
    for scan in dealer.scans:
        rows = scan_rows(dealer, scan)
        _spoil(dealer, inbox, scan, rows, rng)
        inbox.scans[f"scans-{scan.at:%Y-%m}.csv"] += rows
        if scan.twice:
            inbox.scans["scans-again.csv"] += scan_rows(dealer, scan)
    for job in dealer.jobs:
        inbox.repairs += job_rows(job) * (2 if job.twice else 1)
    inbox.stock = [_stock_row(dealer, vehicle, declared) for vehicle in sorted(dealer.cars)]
    inbox.parts = _part_rows(dealer)
    inbox.background = _background_rows(dealer) if declared else []
    return inbox


def write_inbox(dealer: Dealer, folder: Path, declared: bool = False) -> Inbox:
    """Write a dealer's workspace: ``knockon.toml`` and ``inbox/``.

    Args:
        dealer: What was drawn.
        folder: The workspace, made where there is none.
        declared: As for ``inbox_of``.

    Returns:
        The rows that were written.
    """
    inbox = inbox_of(dealer, declared)
    columns = SCAN_COLUMNS
    if not dealer.settings.stored_only and not dealer.settings.pending_only:
        columns = [name for name in SCAN_COLUMNS if name != "asked"]
    for name, rows in inbox.scans.items():
        _write(folder / "inbox" / "scans" / name, columns, rows)
    _write(folder / "inbox" / "stock" / "stock.csv", STOCK_COLUMNS, inbox.stock)
    _write(folder / "inbox" / "parts" / "price-book.csv", PART_COLUMNS, inbox.parts)
    if inbox.repairs:
        _write(folder / "inbox" / "repairs" / "repairs.csv", REPAIR_COLUMNS, inbox.repairs)
    if inbox.background:
        _write(folder / "inbox" / "background" / "background.csv", BACKGROUND_COLUMNS, inbox.background)
    (folder / "knockon.toml").write_text(SETTINGS, encoding="utf-8", newline="\n")
    return inbox


def _write(path: Path, columns: list[str], rows: Iterable[Row]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, restval="", extrasaction="ignore", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def scan_rows(dealer: Dealer, scan: Scan) -> list[Row]:
    """Return the rows of one scan: one a code, one for a module without codes, one for a module that is silent."""
    head = {
        "vehicle": scan.vehicle,
        "scanned_at": f"{scan.shown_at:%Y-%m-%dT%H:%M}",
        "odometer": "" if scan.km is None else str(scan.km),
        "odometer_unit": "" if scan.km is None else "km",
        "module_state": "read",
        "asked": scan.asked,
        "km_since_erase": "" if scan.km_since_erase is None else str(scan.km_since_erase),
        "monitors_ready": "" if scan.ready is None else str(scan.ready).lower(),
    }
    rows = []
    for module in scan.read:
        mine = [found for found in scan.found if found.module == module]
        told = _module_name(module, scan.tool)
        rows += [head | {"module": told} | _code_cells(dealer, scan, found) for found in mine]
        rows += [head | {"module": told}] if not mine else []
    silent = [_module_name(module, scan.tool) for module in scan.silent]
    return rows + [head | {"module": module, "module_state": "silent"} for module in silent]


def _module_name(module: str, tool: str) -> str:
    return module if tool == "bench" else modules()[module]["also_called"].split(";")[0]


def _code_cells(dealer: Dealer, scan: Scan, found: Found) -> Row:
    text = dealer.world.book.text(found.module, found.code, scan.make)
    status = found.state if scan.tool == "bench" else BYTES[found.state]
    return {
        "code": found.code,
        "status": status if dealer.settings.status else "",
        "occurrences": str(found.count),
        "first_odometer": str(round(found.first_km)),
        "text": text if scan.tool == "bench" else text.upper(),
    }


def _spoil(dealer: Dealer, inbox: Inbox, scan: Scan, rows: list[Row], rng: np.random.Generator) -> None:
    """Make a few rows unreadable, never of a car that is judged: its truth holds what its scan showed."""
    for row in rows:
        luck, kind = rng.random(), SPOILT[int(rng.integers(len(SPOILT)))]
        if luck < dealer.settings.refused and scan.vehicle not in dealer.truth and row.get("code"):
            row.update([kind])
            inbox.refused.append(row)


def _stock_row(dealer: Dealer, vehicle: str, declared: bool) -> Row:
    car = dealer.cars[vehicle]
    return {
        "vehicle": vehicle,
        "make": car.make,
        "model": car.line.model,
        "model_year": str(car.year),
        "fuel": car.fuel,
        "bought_on": f"{car.bought:%Y-%m-%d}",
        "sold_on": f"{car.sold:%Y-%m-%d}" if car.sold else "",
        "modifications": ";".join(car.equipment) if car.declared or declared else "",
    }


def job_rows(job: Job) -> list[Row]:
    """Return the rows of one job, as it was written down."""
    head = {
        "vehicle": job.vehicle,
        "job": job.job,
        "done_at": f"{job.logged_at:%Y-%m-%dT%H:%M}",
        "odometer": str(round(job.km)),
        "odometer_unit": "km",
        "note": job.note,
    }
    return [
        head
        | {
            "action": row.action,
            "part": row.written,
            "position": row.written_place,
            "supplier": row.supplier,
            "part_cost": "" if row.cost is None else f"{row.cost:.2f}",
            "labour_minutes": "" if row.minutes is None else str(row.minutes),
        }
        for row in job.rows
    ]


def _part_rows(dealer: Dealer) -> list[Row]:
    return [
        {
            "part": part.name,
            "also_called": ";".join(BY_NAME[part.name].also),
            "part_cost": f"{dealer.world.price[part.name]:.2f}",
            "labour_minutes": str(part.minutes),
            "check_minutes": str(part.check),
            "supplier": "Halvard Parts",
        }
        for part in sorted(dealer.world.parts, key=lambda part: part.name)
    ]


def _background_rows(dealer: Dealer) -> list[Row]:
    return [
        {"vehicle": vehicle, "make": dealer.cars[vehicle].make, "module": module, "code": code, "reason": cause.name}
        for vehicle, life in sorted(dealer.lives.items())
        for cause in life.causes
        if cause.kind in ALONE
        for module, code in sorted(cause.codes)
    ]
