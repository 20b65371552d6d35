"""Shapes held out: written beside the others, before any reader was changed, and run once at the very end."""

from __future__ import annotations

import html
import io
import json
import random
import zipfile
from collections.abc import Callable

import xlsxwriter
from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

from tests.studies.odd_exports.export import NAMES, STATUS, Export, delimited, flat, made, put, scan_rows
from tests.studies.odd_exports.truth import draw


def boxed(rng: random.Random) -> Export:
    """A table in a box of plain signs."""
    truth = draw(rng)
    widths = (9, 18, 8, 8, 8, 12)
    rule = "+" + "+".join("-" * width for width in widths) + "+"

    def line(cells: tuple[object, ...]) -> str:
        return "|" + "|".join(f" {cell!s:<{width - 1}}" for cell, width in zip(cells, widths, strict=True)) + "|"

    out = [rule, line(("vehicle", "date", "km", "module", "code", "status")), rule]
    for scan, module, fault in flat(truth):
        told = (fault.code, fault.status) if fault else ("", "")
        out.append(line((scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, module, *told)))
    return made("boxed", "box.txt", "\n".join([*out, rule]), scan_rows(truth, text=False))


def key_value(rng: random.Random) -> Export:
    """One code a block of lines ``name: value``."""
    truth = draw(rng)
    out = []
    for scan, module, fault in flat(truth):
        if fault is not None:
            out += [
                f"Vehicle: {scan.car.number}",
                f"Date: {scan.when:%d.%m.%Y %H:%M}",
                f"Odometer: {scan.km} km",
                f"Module: {NAMES['plain'][module]}",
                f"Code: {fault.code}",
                f"Status: {fault.status}",
                f"Text: {fault.text}",
                "",
            ]
    return made("key value", "records.txt", "\n".join(out), scan_rows(truth, clean=False))


def html_headings(rng: random.Random) -> Export:
    """A page with a heading a module and a table below each; the car stands above."""
    truth = draw(rng)
    scan = truth.scans[0]
    body = [f"<h1>Vehicle {scan.car.number}</h1><p>Date: {scan.when:%d.%m.%Y %H:%M}<br>Odometer: {scan.km} km</p>"]
    for module, faults in scan.modules:
        body.append(f"<h2>{NAMES['plain'][module]}</h2>")
        rows = "".join(
            f"<tr><td>{fault.code}</td><td>{html.escape(fault.text)}</td><td>{fault.status}</td></tr>"
            for fault in faults
        )
        body.append(
            f"<table><tr><th>Code</th><th>Description</th><th>Status</th></tr>{rows}</table>"
            if faults
            else "<p>No faults</p>"
        )
    rows = [row for row in scan_rows(truth) if (row["vehicle"], row["km"]) == (scan.car.number, scan.km)]
    return made("html headings", "page.htm", f"<html><body>{''.join(body)}</body></html>", rows)


def json_scalars(rng: random.Random) -> Export:
    """JSON lines; the codes are a list of plain texts."""
    truth = draw(rng)
    lines = [
        json.dumps(
            {
                "stock": scan.car.number,
                "date": f"{scan.when:%Y-%m-%d %H:%M}",
                "km": scan.km,
                "ecu": module,
                "codes": [fault.code for fault in faults],
            }
        )
        for scan in truth.scans
        for module, faults in scan.modules
    ]
    return made("json scalars", "lines.jsonl", "\n".join(lines), scan_rows(truth, status=False, text=False))


def sheet_a_car(rng: random.Random) -> Export:
    """A workbook with a sheet a car; the car's number is the sheet's name alone."""
    truth = draw(rng)
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    for car in truth.cars:
        sheet = book.add_worksheet(car.number)
        put(sheet, 0, ("Date", "Odometer km", "Module", "Code", "Status"))
        at = 0
        for scan, module, fault in flat(truth):
            if scan.car == car:
                at += 1
                told = (fault.code, fault.status) if fault else ("", "")
                put(sheet, at, (f"{scan.when:%Y-%m-%d %H:%M}", scan.km, module, *told))
    book.close()
    return made("sheet a car", "cars.xlsx", out.getvalue(), scan_rows(truth, text=False))


def sections(rng: random.Random) -> Export:
    """A line for the car above each table of its scan, the header repeated."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        out += [
            f"Vehicle;{scan.car.number};Date;{scan.when:%d.%m.%Y %H:%M};Km;{scan.km}",
            "Module;Code;Status;Description",
        ]
        for module, faults in scan.modules:
            out += [f"{module};{fault.code};{fault.status};{fault.text}" for fault in faults] or [f"{module};;;"]
        out.append("")
    return made("sections", "sections.csv", "\n".join(out), scan_rows(truth))


def wrapped(rng: random.Random) -> Export:
    """Printed, French; the status of a code stands on the line below it."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        out += [f"Véhicule : {scan.car.number}", f"Date : {scan.when:%d/%m/%Y %H:%M}", f"Kilométrage : {scan.km} km"]
        for module, faults in scan.modules:
            out.append(f"Calculateur {module}")
            for fault in faults:
                out += [f"    {fault.code} {fault.text}", f"        {STATUS['french'][fault.status]}"]
            out += [] if faults else ["    aucun défaut"]
        out.append("")
    return made("wrapped", "rapport.txt", "\n".join(out), scan_rows(truth))


def column_a_module(rng: random.Random) -> Export:
    """One line a scan, one column a module, in UTF-16 with tabs."""
    truth = draw(rng)
    lines: list[list[object]] = [["Vehicle", "Date", "Km", "Engine", "Gearbox", "Brakes", "Body", "Airbag"]]
    for scan in truth.scans:
        found = dict(scan.modules)
        cells = [
            ", ".join(fault.code for fault in found[module]) or "ok" if module in found else "not read"
            for module in ("ECM", "TCM", "ABS", "BCM", "SRS")
        ]
        lines.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, *cells])
    return made(
        "column a module",
        "wide.tsv",
        delimited(lines, "\t").encode("utf-16"),
        scan_rows(truth, status=False, text=False),
    )


def zip_of_texts(rng: random.Random) -> Export:
    """A packed folder with a printed text a scan."""
    truth = draw(rng)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for number, scan in enumerate(truth.scans):
            lines = [f"Car: {scan.car.number}", f"Scanned: {scan.when:%Y-%m-%d %H:%M}", f"Odometer: {scan.km} km"]
            for module, faults in scan.modules:
                lines.append(f"* {NAMES['plain'][module]} *")
                lines += [f"  {fault.code}: {fault.text} [{fault.status}]" for fault in faults] or ["  no codes"]
            packed.writestr(f"{number}.txt", "\n".join(lines))
    return made("zip of texts", "texts.zip", out.getvalue(), scan_rows(truth))


def pdf_table(rng: random.Random) -> Export:
    """A PDF with a table over several pages, the header repeated."""
    truth = draw(rng)
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=A4)
    places = (40, 90, 190, 250, 300, 350, 420)
    head = ("Vehicle", "Date", "Km", "Module", "Code", "Status", "Text")
    for at, (scan, module, fault) in enumerate(flat(truth)):
        if at % 40 == 0:
            if at:
                canvas.showPage()
            for place, name in zip(places, head, strict=True):
                canvas.drawString(place, 800, name)
        told = (fault.code, fault.status, fault.text) if fault else ("", "", "")
        for place, cell in zip(
            places, (scan.car.number, f"{scan.when:%d.%m.%Y %H:%M}", scan.km, module, *told), strict=True
        ):
            canvas.drawString(place, 784 - 18 * (at % 40), str(cell))
    canvas.save()
    return made("pdf table", "table.pdf", out.getvalue(), scan_rows(truth))


def two_header_rows(rng: random.Random) -> Export:
    """A comma file with a group line above the names, and a sum line at the end."""
    truth = draw(rng)
    lines: list[list[object]] = [
        ["Vehicle", "", "", "Diagnosis", "", ""],
        ["No.", "Scan date", "Odometer km", "Module", "DTC", "DTC status"],
    ]
    for scan, module, fault in flat(truth):
        told = (fault.code, fault.status) if fault else ("", "")
        lines.append([scan.car.number, f"{scan.when:%d/%m/%Y %H:%M}", scan.km, module, *told])
    lines.append(["Total", len(lines) - 2, "", "", "", ""])
    return made("two header rows", "two.csv", delimited(lines), scan_rows(truth, text=False))


def xml(rng: random.Random) -> Export:
    """XML, one element a code; written when no mapping read it yet and it had to be said."""
    truth = draw(rng)
    out = ["<?xml version='1.0'?><scans>"]
    for scan, module, fault in flat(truth):
        code = f"<code>{fault.code}</code>" if fault else ""
        out.append(
            f"<row><car>{scan.car.number}</car><date>{scan.when:%Y-%m-%d %H:%M}</date>"
            f"<module>{module}</module>{code}</row>"
        )
    return made(
        "xml", "scans.xml", "\n".join([*out, "</scans>"]), scan_rows(truth, status=False, text=False, odometer=False)
    )


SHAPES: tuple[Callable[[random.Random], Export], ...] = (
    boxed,
    key_value,
    html_headings,
    json_scalars,
    sheet_a_car,
    sections,
    wrapped,
    column_a_module,
    zip_of_texts,
    pdf_table,
    two_header_rows,
    xml,
)


def draw_held_out(seed: int) -> list[Export]:
    """Return one export of each shape."""
    return [shape(random.Random(f"{seed} {shape.__name__}")) for shape in SHAPES]
