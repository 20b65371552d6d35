"""One odd export: its bytes, and the rows that a right reading of it gives; and what the shapes write with."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import xlsxwriter

from tests.studies.odd_exports.truth import Fault, Scan, Truth

Row = dict[str, object]

NAMES = {
    "plain": {"ECM": "Engine", "TCM": "Gearbox", "ABS": "Brakes", "BCM": "Body", "SRS": "Airbag"},
    "short": {module: module for module in ("ECM", "TCM", "ABS", "BCM", "SRS")},
    "german": {"ECM": "Motor", "TCM": "Getriebe", "ABS": "Bremsen", "BCM": "Karosserie", "SRS": "Airbag"},
}
# What workshops' programs print for a status; common practice, no source.
STATUS = {
    "english": {"active": "Active", "pending": "Pending", "confirmed": "Confirmed", "history": "History"},
    "german": {"active": "aktiv", "pending": "vorläufig", "confirmed": "gespeichert", "history": "passiv"},
    "french": {"active": "présent", "pending": "en attente", "confirmed": "mémorisé", "history": "historique"},
    "present": {"active": "present", "pending": "not confirmed", "confirmed": "stored", "history": "not present"},
    "sporadic": {
        "active": "permanent vorhanden",
        "pending": "unbestätigt",
        "confirmed": "sporadisch",
        "history": "inaktiv",
    },
}


@dataclass(frozen=True, kw_only=True)
class Export:
    """One odd file.

    Attributes:
        kind: The shape.
        name: Its file name.
        content: Its bytes.
        table: The table it belongs to.
        rows: What a right reading gives.
        asks: Nothing in the file can decide something; a right reading asks.
    """

    kind: str
    name: str
    content: bytes
    table: str
    rows: list[Row]
    asks: bool = False


def repair_rows(truth: Truth) -> list[Row]:
    """Return the rows that a right reading of every job gives."""
    return [
        {
            "vehicle": job.car.number,
            "job": job.job,
            "done_at": f"{job.day:%Y-%m-%d}",
            "km": job.km,
            "action": "replace",
            "part": job.part,
            "part_cost": job.cost,
            "labour_minutes": job.minutes,
        }
        for job in truth.jobs
    ]


def scan_rows(
    truth: Truth,
    *,
    clean: bool = True,
    status: bool = True,
    text: bool = True,
    day_only: bool = False,
    odometer: bool = True,
) -> list[Row]:
    """Return the rows of the scans, as far as a shape prints them."""
    rows: list[Row] = []
    for scan in truth.scans:
        base: Row = {
            "vehicle": scan.car.number,
            "scanned_at": scan.when.strftime("%Y-%m-%d" if day_only else "%Y-%m-%d %H:%M"),
        }
        if odometer:
            base["km"] = scan.km
        for module, faults in scan.modules:
            for fault in faults:
                row = {**base, "module": module, "code": fault.code}
                row |= {"status": fault.status} if status else {}
                row |= {"text": fault.text} if text else {}
                rows.append(row)
            if not faults and clean:
                rows.append(
                    {**base, "module": module, "code": None}
                    | ({"status": None} if status else {})
                    | ({"text": None} if text else {})
                )
    return rows


def flat(truth: Truth) -> Iterable[tuple[Scan, str, Fault | None]]:
    """Yield each code with its scan and module, and each module without codes once."""
    for scan in truth.scans:
        for module, faults in scan.modules:
            for fault in faults or (None,):
                yield scan, module, fault


def told(fault: Fault | None, words: dict[str, str] | None = None, *, text: bool = True) -> tuple[str, ...]:
    """Return the cells of a code: code, status, and its text; blank ones where there is none."""
    if fault is None:
        return ("",) * (2 + text)
    return (fault.code, (words or {}).get(fault.status, fault.status), *([fault.text] if text else []))


def delimited(rows: Iterable[Sequence[object]], delimiter: str = ",", end: str = "\r\n") -> str:
    """Return rows as delimited text."""
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=end).writerows(rows)
    return out.getvalue()


def made(kind: str, name: str, content: str | bytes, rows: list[Row], table: str = "scans") -> Export:
    """Return an export; text becomes UTF-8."""
    whole = content if isinstance(content, bytes) else content.encode()
    return Export(kind=kind, name=name, content=whole, table=table, rows=rows)


def workbook(write: Callable[[Any], None]) -> bytes:
    """Return a workbook that a function fills."""
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    write(book)
    book.close()
    return out.getvalue()


def put(sheet: Any, at: int, cells: Iterable[object], first: int = 0) -> None:
    """Write a row of a sheet, from a column on."""
    for place, cell in enumerate(cells, first):
        sheet.write(at, place, cell)
