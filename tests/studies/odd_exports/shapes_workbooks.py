"""Shapes of workbooks."""

from __future__ import annotations

import io
import random
from datetime import datetime

import xlsxwriter

from tests.studies.odd_exports.export import Export, Row, flat, made, put, scan_rows
from tests.studies.odd_exports.truth import Truth, draw


def workbook_merged(rng: random.Random) -> Export:
    """A workbook with merged headings, miles and real dates."""
    truth = draw(rng)
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    sheet = book.add_worksheet("Export")
    date = book.add_format({"num_format": "dd/mm/yyyy hh:mm"})
    sheet.merge_range("A1:G1", "Scan results of the workshop", None)
    sheet.merge_range("A2:C2", "Car", None)
    sheet.merge_range("D2:G2", "Fault", None)
    put(sheet, 2, ("Stock no", "Date", "Odometer (mi)", "System", "Code", "Status", "Text"))
    rows = scan_rows(truth)
    for at, (scan, module, fault) in enumerate(flat(truth), 3):
        miles = round(scan.km / 1.609344)
        rows[at - 3]["km"] = round(miles * 1.609344)
        sheet.write(at, 0, scan.car.number)
        sheet.write_datetime(at, 1, scan.when, date)
        sheet.write_number(at, 2, miles)
        put(sheet, at, (module, *((fault.code, fault.status, fault.text) if fault else ("", "", ""))), 3)
    book.close()
    return made("workbook merged", "export.xlsx", out.getvalue(), rows)


def workbook_serial(rng: random.Random) -> Export:
    """Days as serial numbers without a format, a formula in a column nobody needs, hidden rows."""
    truth = draw(rng)
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    sheet = book.add_worksheet("Sheet1")
    put(sheet, 0, ("Vehicle", "Scan date", "Odometer km", "Module", "Fault code", "Status", "Days ago"))
    base = datetime(1899, 12, 30)
    for at, (scan, module, fault) in enumerate(flat(truth), 1):
        serial = (scan.when - base).total_seconds() / 86_400
        cells = (scan.car.number, serial, scan.km, module, fault.code if fault else "", fault.status if fault else "")
        put(sheet, at, cells)
        sheet.write_formula(at, 6, f"=TODAY()-B{at + 1}", None, 3)
        if at % 5 == 0:
            sheet.set_row(at, None, None, {"hidden": True})
    book.close()
    return made("workbook serial", "serial.xlsx", out.getvalue(), scan_rows(truth, text=False))


def workbook_sheets(rng: random.Random) -> Export:
    """Two sheets of the same columns, and one with notes."""
    truth = draw(rng)
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    notes = book.add_worksheet("Notes")
    notes.write(0, 0, "Exported by hand")
    head = ("Car", "Date", "Time", "Km", "Module", "DTC", "State")
    half = len(truth.scans) // 2
    for title, scans in (("2025 a", truth.scans[:half]), ("2025 b", truth.scans[half:])):
        sheet = book.add_worksheet(title)
        put(sheet, 0, head)
        part = Truth(cars=truth.cars, scans=scans, jobs=(), parts=())
        for at, (scan, module, fault) in enumerate(flat(part), 1):
            cells = (
                scan.car.number,
                f"{scan.when:%d.%m.%Y}",
                f"{scan.when:%H:%M}",
                scan.km,
                module,
                fault.code if fault else "",
                fault.status if fault else "",
            )
            put(sheet, at, cells)
    book.close()
    return made("workbook sheets", "two.xlsx", out.getvalue(), scan_rows(truth, text=False))


def parts(rng: random.Random) -> Export:
    """A price book as a workbook."""
    truth = draw(rng)
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    sheet = book.add_worksheet("Prices")
    for place, name in enumerate(
        rng.choice((("Part name", "Price", "Labour (min)"), ("Ersatzteil", "Preis", "Arbeitszeit (min)")))
    ):
        sheet.write(0, place, name)
    for at, row in enumerate(truth.parts, 1):
        put(sheet, at, row)
    book.close()
    rows: list[Row] = [
        {"part": part, "part_cost": cost, "labour_minutes": minutes} for part, cost, minutes in truth.parts
    ]
    return made("parts", "prices.xlsx", out.getvalue(), rows, "parts")
