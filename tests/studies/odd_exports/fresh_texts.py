"""Fresh shapes of printed text, pages, PDF, JSON and packed files; part of ``fresh_set``."""

from __future__ import annotations

import html
import io
import json
import random
import zipfile
from collections.abc import Sequence
from datetime import UTC
from xml.sax.saxutils import escape

from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

from tests.studies.odd_exports.export import NAMES, Export, delimited, flat, made, scan_rows, told
from tests.studies.odd_exports.fresh_tables import MILE, alone
from tests.studies.odd_exports.truth import draw


def html_info(rng: random.Random) -> Export:
    """A page for one scan: a small table of labels and values, then the table of codes."""
    truth = draw(rng)
    truth = alone(truth, truth.scans[0])
    scan = truth.scans[0]
    info = "".join(
        f"<tr><td>{name}</td><td>{value}</td></tr>"
        for name, value in (
            ("Vehicle", scan.car.number),
            ("Make", scan.car.make),
            ("Scan date", f"{scan.when:%Y-%m-%d %H:%M}"),
            ("Mileage", f"{scan.km} km"),
        )
    )
    body = "".join(
        "<tr>" + "".join(f"<td>{html.escape(cell)}</td>" for cell in (module, *told(fault))) + "</tr>"
        for _, module, fault in flat(truth)
    )
    head = "<tr><th>Module</th><th>Code</th><th>Status</th><th>Description</th></tr>"
    page = f"<!DOCTYPE html><html><body><h1>Scan</h1><table>{info}</table><table>{head}{body}</table></body></html>"
    return made("html info", "scan.html", page, scan_rows(truth))


def html_scans(rng: random.Random) -> Export:
    """A page with a heading and a table a scan."""
    truth = draw(rng)
    body = []
    for scan in truth.scans:
        body.append(f"<h3>Fahrzeug {scan.car.number} – {scan.when:%d.%m.%Y %H:%M} – {scan.km} km</h3><table>")
        body.append("<tr><th>Steuergerät</th><th>Fehlercode</th><th>Status</th></tr>")
        words = {"active": "aktiv", "pending": "vorläufig", "confirmed": "gespeichert", "history": "passiv"}
        for _, module, fault in flat(alone(truth, scan)):
            cells = (NAMES["german"][module], *told(fault, words, text=False))
            body.append("<tr>" + "".join(f"<td>{cell}</td>" for cell in cells) + "</tr>")
        body.append("</table>")
    page = f"<html><head><meta charset='utf-8'></head><body>{''.join(body)}</body></html>"
    return made("html scans", "alle.html", page, scan_rows(truth, text=False))


def html_lists(rng: random.Random) -> Export:
    """A page of lists inside lists."""
    truth = draw(rng)
    body = []
    for scan in truth.scans:
        body.append(f"<h2>Car {scan.car.number}</h2><p>Read on {scan.when:%d %B %Y %H:%M} at {scan.km} km</p><ul>")
        for module, faults in scan.modules:
            codes = "".join(f"<li>{fault.code} - {html.escape(fault.text)} - {fault.status}</li>" for fault in faults)
            body.append(f"<li>{NAMES['plain'][module]}<ul>{codes or '<li>no fault stored</li>'}</ul></li>")
        body.append("</ul>")
    return made("html lists", "lists.htm", f"<html><body>{''.join(body)}</body></html>", scan_rows(truth))


def indented(rng: random.Random) -> Export:
    """Three levels, no labels: car, day and distance; module; code, state and wording."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        out.append(f"{scan.car.number}  {scan.when:%Y-%m-%d %H:%M}  {scan.km} km")
        for module, faults in scan.modules:
            out.append(f"  {NAMES['plain'][module]}")
            out += [f"    {fault.code} {fault.status}: {fault.text}" for fault in faults] or ["    ok"]
    return made("indented", "tree.txt", "\n".join(out), scan_rows(truth))


def dotted(rng: random.Random) -> Export:
    """Dots lead to the values, modules are underlined, codes counted."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        out += ["VEHICLE SCAN", f"Vehicle ......... {scan.car.number}", f"Scanned ......... {scan.when:%d.%m.%Y %H:%M}"]
        out += [f"Mileage ......... {scan.km} km", ""]
        for module, faults in scan.modules:
            name = NAMES["plain"][module]
            out += [name, "=" * len(name)]
            lines = [f"{n}) {fault.code} {fault.text} [{fault.status}]" for n, fault in enumerate(faults, 1)]
            out += [*(lines or ["No trouble codes"]), ""]
    return made("dotted", "scan.txt", "\n".join(out), scan_rows(truth))


def paged(rng: random.Random) -> Export:
    """Columns of a fixed width, printed page by page with a heading and a foot."""
    truth = draw(rng)
    out: list[str] = []
    flown = list(flat(truth))
    head = f"{'Fahrzeug':<10}{'Datum':<12}{'Zeit':<7}{'km':>8}  {'Steuergerät':<13}{'Code':<7}{'Status':<14}"
    words = {"active": "aktiv", "pending": "vorläufig", "confirmed": "gespeichert", "history": "passiv"}
    for page in range(0, len(flown), 20):
        out += ["Fehlerliste Werkstatt", "", head.rstrip(), "-" * 70]
        for scan, module, fault in flown[page : page + 20]:
            code, state = told(fault, words, text=False)
            line = f"{scan.car.number:<10}{scan.when:%d.%m.%Y  %H:%M}  {scan.km:>8}  {module:<13}{code:<7}{state:<14}"
            out.append(line.rstrip())
        out += ["", f"Seite {page // 20 + 1}", "\f"]
    return made("paged", "druck.lst", "\r\n".join(out).encode("cp1252"), scan_rows(truth, text=False))


def pdf_of(pages: Sequence[Sequence[tuple[float, float, str]]]) -> bytes:
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=A4)
    for page in pages:
        for across, up, text in page:
            canvas.drawString(across, up, text)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def pdf_blocks(rng: random.Random) -> Export:
    """A German PDF; each page has a line at the top, the scans run on."""
    truth = draw(rng)
    words = {"active": "aktiv", "pending": "vorläufig", "confirmed": "gespeichert", "history": "passiv"}
    lines = []
    for scan in truth.scans:
        lines += [(0, f"Fahrzeug: {scan.car.number}"), (0, f"Datum: {scan.when:%d.%m.%Y} Uhrzeit: {scan.when:%H:%M}")]
        lines.append((0, f"Kilometerstand: {scan.km} km"))
        for module, faults in scan.modules:
            lines.append((10, f"Steuergerät: {NAMES['german'][module]}"))
            lines += [(20, f"{fault.code} {fault.text} ({words[fault.status]})") for fault in faults] or [
                (20, "Kein Fehler gespeichert")
            ]
    pages = [
        [
            (50, 810, "Prüfbericht"),
            *((50 + left, 780 - 16 * at, text) for at, (left, text) in enumerate(lines[start : start + 40])),
        ]
        for start in range(0, len(lines), 40)
    ]
    return made("pdf blocks", "bericht.pdf", pdf_of(pages), scan_rows(truth))


def pdf_miles(rng: random.Random) -> Export:
    """A PDF with a table in miles, a title above."""
    truth = draw(rng)
    rows = scan_rows(truth, text=False)
    places = (40, 100, 210, 280, 350, 410)
    head = ("Stock no", "Scan date", "Odometer", "Module", "Code", "Status")
    flown = list(flat(truth))
    pages = []
    for start in range(0, len(flown), 38):
        page: list[tuple[float, float, str]] = [(40, 815, "Scan results")]
        page += [(place, 790, name) for place, name in zip(places, head, strict=True)]
        for at, (scan, module, fault) in enumerate(flown[start : start + 38]):
            miles = round(scan.km / MILE)
            rows[start + at]["km"] = round(miles * MILE)
            cells = (scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", f"{miles:,} mi", module, *told(fault, text=False))
            page += [(place, 772 - 18 * at, cell) for place, cell in zip(places, cells, strict=True)]
        pages.append(page)
    return made("pdf miles", "miles.pdf", pdf_of(pages), rows)


def code_first(rng: random.Random) -> Export:
    """Records of labelled lines; the code stands first, its module below it."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        out += [f"Vehicle: {scan.car.number}", f"Date: {scan.when:%Y-%m-%d %H:%M}", f"Odometer: {scan.km} km", ""]
        for _, module, fault in flat(alone(truth, scan)):
            if fault is not None:
                out += [
                    f"Fault code: {fault.code}",
                    f"  Control unit: {NAMES['plain'][module]}",
                    f"  Status: {fault.status}",
                ]
                out += [f"  Description: {fault.text}", ""]
    return made("code first", "records.txt", "\n".join(out), scan_rows(truth, clean=False))


def headless(rng: random.Random) -> Export:
    """Delimited text without headings."""
    truth = draw(rng)
    lines: list[list[object]] = []
    for scan, module, fault in flat(truth):
        if fault is not None:
            lines.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, module, fault.code, fault.status])
    return made("headless", "log.csv", delimited(lines, ";"), scan_rows(truth, clean=False, text=False))


def log_lines(rng: random.Random) -> Export:
    """A line an event, each with a word in front of each value."""
    truth = draw(rng)
    out = [
        f"{scan.when:%Y-%m-%d %H:%M:%S} car={scan.car.number} km={scan.km} ecu={module} dtc={fault.code} "
        f"state={fault.status}"
        for scan, module, fault in flat(truth)
        if fault is not None
    ]
    return made("log lines", "events.log", "\n".join(out), scan_rows(truth, clean=False, text=False))


def json_keyed(rng: random.Random) -> Export:
    """JSON in which the modules are names of an object."""
    truth = draw(rng)
    scans = [
        {
            "car": scan.car.number,
            "scannedAt": f"{scan.when:%Y-%m-%dT%H:%M:%S}",
            "mileageKm": scan.km,
            "modules": {module: [fault.code for fault in faults] for module, faults in scan.modules},
        }
        for scan in truth.scans
    ]
    return made("json keyed", "keyed.json", json.dumps(scans), scan_rows(truth, status=False, text=False))


def json_flat(rng: random.Random) -> Export:
    """JSON lines, one code a line, counted time."""
    truth = draw(rng)
    lines = []
    for scan, module, fault in flat(truth):
        one = {
            "stockNo": scan.car.number,
            "time": int(scan.when.replace(tzinfo=UTC).timestamp()),
            "odometerKm": scan.km,
        }
        one |= {"ecu": module, "dtc": fault.code if fault else None, "dtcStatus": fault.status if fault else None}
        lines.append(json.dumps(one))
    return made("json flat", "flat.jsonl", "\n".join(lines), scan_rows(truth, text=False))


def zip_named(rng: random.Random) -> Export:
    """A packed folder with a table a car, whose number stands in the file's name only."""
    truth = draw(rng)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for car in truth.cars:
            lines: list[list[object]] = [["Date", "Km", "Module", "Code", "Status"]]
            for scan, module, fault in flat(truth):
                if scan.car == car:
                    lines.append([f"{scan.when:%d.%m.%Y %H:%M}", scan.km, module, *told(fault, text=False)])
            packed.writestr(f"cars/{car.number}.csv", delimited(lines, ";"))
    return made("zip named", "cars.zip", out.getvalue(), scan_rows(truth, text=False))


def zip_pages(rng: random.Random) -> Export:
    """A packed folder with a page a scan."""
    truth = draw(rng)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for number, scan in enumerate(truth.scans):
            body = "".join(
                "<tr>" + "".join(f"<td>{html.escape(cell)}</td>" for cell in (module, *told(fault))) + "</tr>"
                for _, module, fault in flat(alone(truth, scan))
            )
            page = (
                f"<html><body><p>Vehicle: {scan.car.number}</p><p>Scanned: {scan.when:%d/%m/%Y %H:%M}</p>"
                f"<p>Odometer: {scan.km} km</p><table><tr><th>Module</th><th>Code</th><th>Status</th><th>Text</th></tr>"
                f"{body}</table></body></html>"
            )
            packed.writestr(f"{number:03}.html", page)
    return made("zip pages", "pages.zip", out.getvalue(), scan_rows(truth))


def xml_tree(rng: random.Random) -> Export:
    """XML: scans, units and codes inside one another."""
    truth = draw(rng)
    out = ['<?xml version="1.0" encoding="UTF-8"?>', "<export>"]
    for scan in truth.scans:
        out.append(f'<scan vehicle="{scan.car.number}" date="{scan.when:%Y-%m-%d %H:%M}" km="{scan.km}">')
        for module, faults in scan.modules:
            codes = "".join(
                f"<fault><code>{fault.code}</code><status>{fault.status}</status><text>{escape(fault.text)}</text></fault>"
                for fault in faults
            )
            out.append(f"<module><name>{module}</name>{codes}</module>")
        out.append("</scan>")
    return made("xml tree", "export.xml", "\n".join([*out, "</export>"]), scan_rows(truth))
