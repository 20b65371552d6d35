"""Workbooks, JSON, XML and packed files of the third set; part of ``fresh_third``."""

from __future__ import annotations

import io
import json
import random
import zipfile
from datetime import UTC
from typing import Any
from xml.sax.saxutils import escape

from tests.studies.odd_exports.export import (
    NAMES,
    STATUS,
    Export,
    delimited,
    flat,
    made,
    put,
    repair_rows,
    scan_rows,
    told,
    workbook,
)
from tests.studies.odd_exports.truth import draw


def offset_sheet(rng: random.Random) -> Export:
    """The table starts in the third column below a title; a hidden column and a line of sums."""
    truth = draw(rng)

    def fill(book: Any) -> None:
        sheet = book.add_worksheet("Readings")
        sheet.write(0, 2, "Readings of the yard")
        put(sheet, 3, ("Vehicle", "Scan date", "Internal", "Odometer (km)", "Module", "Code", "Status", "Text"), 2)
        day = book.add_format({"num_format": "dd.mm.yyyy hh:mm"})
        at = 3
        for scan, module, fault in flat(truth):
            at += 1
            put(sheet, at, (scan.car.number, "", 7000 + at, scan.km, module, *told(fault)), 2)
            sheet.write_datetime(at, 3, scan.when, day)
        put(sheet, at + 1, ("Total", at - 3), 2)
        sheet.set_column(4, 4, None, None, {"hidden": True})

    return made("offset sheet", "yard.xlsx", workbook(fill), scan_rows(truth))


def day_and_hour(rng: random.Random) -> Export:
    """A workbook with the day in one column and the hour in another, both real ones, distances in miles."""
    truth = draw(rng)
    rows = scan_rows(truth, text=False)
    for row in rows:
        row["km"] = round(int(str(row["km"])) / 1.609344) * 1.609344

    def fill(book: Any) -> None:
        sheet = book.add_worksheet("Log")
        put(sheet, 0, ("Stock no.", "Day", "Hour", "Miles", "Control unit", "Fault code", "State"))
        day, hour = book.add_format({"num_format": "dd/mm/yyyy"}), book.add_format({"num_format": "hh:mm"})
        for at, (scan, module, fault) in enumerate(flat(truth), 1):
            cells = ("", "", round(scan.km / 1.609344), NAMES["plain"][module], *told(fault, text=False))
            put(sheet, at, (scan.car.number, *cells))
            sheet.write_datetime(at, 1, scan.when.replace(hour=0, minute=0), day)
            sheet.write_datetime(at, 2, scan.when.time(), hour)

    return made("day and hour", "log.xlsx", workbook(fill), rows)


def linked_sheets(rng: random.Random) -> Export:
    """A sheet of scans and a sheet of codes that are tied by a number only."""
    truth = draw(rng)

    def fill(book: Any) -> None:
        scans, codes = book.add_worksheet("Scans"), book.add_worksheet("Codes")
        put(scans, 0, ("Scan no.", "Vehicle", "Date", "Km"))
        put(codes, 0, ("Scan no.", "Module", "Code", "Status", "Text"))
        at = 0
        for number, scan in enumerate(truth.scans, 1):
            put(scans, number, (number, scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km))
            for module, faults in scan.modules:
                for fault in faults or (None,):
                    at += 1
                    put(codes, at, (number, module, *told(fault)))

    return made("linked sheets", "linked.xlsx", workbook(fill), scan_rows(truth))


def repairs_english(rng: random.Random) -> Export:
    """A repair book as a workbook: words for what was done, costs with a money format, hours with a decimal."""
    truth = draw(rng)

    def fill(book: Any) -> None:
        sheet = book.add_worksheet("Jobs")
        put(sheet, 0, ("Job no.", "Stock no.", "Done on", "Km", "Work", "Part", "Part cost", "Labour (min)"))
        money, day = book.add_format({"num_format": "€ 0.00"}), book.add_format({"num_format": "dd mmm yyyy"})
        for at, job in enumerate(truth.jobs, 1):
            put(sheet, at, (job.job, job.car.number, "", job.km, "Replaced", job.part, "", job.minutes))
            sheet.write_datetime(at, 2, job.day, day)
            sheet.write_number(at, 6, job.cost, money)

    return made("repairs english", "jobs.xlsx", workbook(fill), repair_rows(truth), "repairs")


def open_document(rng: random.Random) -> Export:
    """The open spreadsheet format, written by hand: cells as texts and numbers."""
    truth = draw(rng)

    def cell(value: object) -> str:
        if isinstance(value, int):
            start = f'<table:table-cell office:value-type="float" office:value="{value}">'
            return f"{start}<text:p>{value}</text:p></table:table-cell>"
        told_text = f"<text:p>{escape(str(value))}</text:p>" if value else ""
        return f'<table:table-cell office:value-type="string">{told_text}</table:table-cell>'

    lines: list[tuple[object, ...]] = [("Vehicle", "Date", "Km", "Module", "Code", "Status", "Text")]
    for scan, module, fault in flat(truth):
        lines.append((scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, module, *told(fault)))
    body = "".join(f"<table:table-row>{''.join(map(cell, line))}</table:table-row>" for line in lines)
    urn = "urn:oasis:names:tc:opendocument:xmlns"
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content xmlns:office="{urn}:office:1.0" '
        f'xmlns:table="{urn}:table:1.0" xmlns:text="{urn}:text:1.0" office:version="1.2"><office:body>'
        f'<office:spreadsheet><table:table table:name="Scans">{body}</table:table></office:spreadsheet>'
        "</office:body></office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    manifest = (
        f'<?xml version="1.0" encoding="UTF-8"?><manifest:manifest xmlns:manifest="{urn}:manifest:1.0" '
        f'manifest:version="1.2"><manifest:file-entry manifest:full-path="/" manifest:media-type="{kind}"/>'
        '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>'
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("mimetype", kind)
        packed.writestr("content.xml", content)
        packed.writestr("META-INF/manifest.xml", manifest)
    return made("open document", "scans.ods", out.getvalue(), scan_rows(truth))


def json_columns(rng: random.Random) -> Export:
    """JSON with the names once and the rows as lists."""
    truth = draw(rng)
    rows = [
        [scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, module, *(cell or None for cell in told(fault))]
        for scan, module, fault in flat(truth)
    ]
    whole = {"fields": ["vehicle", "read_at", "km", "unit", "dtc", "state", "meaning"], "rows": rows}
    return made("json columns", "columns.json", json.dumps(whole), scan_rows(truth))


def json_reports(rng: random.Random) -> Export:
    """JSON lines, a report each: a head, and units with lists of codes; the time is counted in thousandths."""
    truth = draw(rng)
    lines = []
    for scan in truth.scans:
        stamp = int(scan.when.replace(tzinfo=UTC).timestamp() * 1000)
        units = [
            {
                "unit": module,
                "faults": [{"dtc": fault.code, "state": fault.status, "label": fault.text} for fault in faults],
            }
            for module, faults in scan.modules
        ]
        head = {"car": {"stockNumber": scan.car.number, "odometerKm": scan.km}, "createdAt": stamp}
        lines.append(json.dumps({"head": head, "units": units}))
    return made("json reports", "reports.jsonl", "\n".join(lines), scan_rows(truth))


def json_strings(rng: random.Random) -> Export:
    """JSON: a list of scans whose codes are texts of the form unit, code, state."""
    truth = draw(rng)
    whole = [
        {
            "vehicle": scan.car.number,
            "date": f"{scan.when:%d.%m.%Y %H:%M}",
            "mileage": f"{scan.km} km",
            "codes": [
                f"{module}: {fault.code} ({fault.status})" for module, faults in scan.modules for fault in faults
            ],
        }
        for scan in truth.scans
    ]
    return made("json strings", "strings.json", json.dumps(whole, indent=1), scan_rows(truth, clean=False, text=False))


def xml_fields(rng: random.Random) -> Export:
    """XML: a record a code, each value a field that is named in an attribute."""
    truth = draw(rng)
    out = ['<?xml version="1.0" encoding="UTF-8"?>', "<report>"]
    for scan, module, fault in flat(truth):
        pairs = {"Vehicle": scan.car.number, "Date": f"{scan.when:%Y-%m-%d %H:%M}", "Km": scan.km, "Module": module}
        names = ("Code", "Status", "Text")
        pairs |= {name: cell for name, cell in zip(names, told(fault), strict=True) if cell}
        fields = "".join(f'<field name="{name}">{escape(str(value))}</field>' for name, value in pairs.items())
        out.append(f"<record>{fields}</record>")
    return made("xml fields", "fields.xml", "\n".join([*out, "</report>"]), scan_rows(truth))


def zip_of_json(rng: random.Random) -> Export:
    """A packed folder with a JSON file a scan, in folders by car, and a text that explains."""
    truth = draw(rng)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("README.txt", "One file a scan. Made by the yard's own program.")
        for number, scan in enumerate(truth.scans):
            rows = [
                {"module": module, "dtcs": [{"dtc": fault.code, "status": fault.status} for fault in faults]}
                for module, faults in scan.modules
            ]
            whole = {"vehicle": scan.car.number, "date": f"{scan.when:%Y-%m-%d %H:%M}", "km": scan.km, "ecus": rows}
            packed.writestr(f"{scan.car.number}/scan_{number:03}.json", json.dumps(whole))
    return made("zip of json", "yard.zip", out.getvalue(), scan_rows(truth, text=False))


def zip_two_tables(rng: random.Random) -> Export:
    """A packed folder with two tables of the same kind in two languages."""
    truth = draw(rng)
    half = len(truth.scans) // 2
    english: list[list[object]] = [["Vehicle", "Date", "Km", "Module", "Code", "Status"]]
    german: list[list[object]] = [["Fahrzeug", "Datum", "km-Stand", "Steuergerät", "Fehlercode", "Status"]]
    for scan, module, fault in flat(truth):
        if scan in truth.scans[:half]:
            cells = (scan.km, module, *told(fault, text=False))
            english.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", *cells])
        else:
            cells = (scan.km, module, *told(fault, STATUS["german"], text=False))
            german.append([scan.car.number, f"{scan.when:%d.%m.%Y %H:%M}", *cells])
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("a.csv", delimited(english))
        packed.writestr("b.csv", delimited(german, ";"))
    return made("zip two tables", "two.zip", out.getvalue(), scan_rows(truth, text=False))
