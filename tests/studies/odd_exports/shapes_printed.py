"""Shapes of printed text, pages, PDF, JSON and packed files."""

from __future__ import annotations

import html
import io
import json
import random
import zipfile
from datetime import UTC

from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

from tests.studies.odd_exports.export import NAMES, STATUS, Export, delimited, flat, made, scan_rows
from tests.studies.odd_exports.truth import draw


def printed_blocks(rng: random.Random) -> Export:
    """A printed text with a block a scan."""
    truth = draw(rng)
    german = rng.random() < 0.5
    names, words = NAMES["german" if german else "plain"], STATUS["german" if german else "english"]
    out = []
    for scan in truth.scans:
        if german:
            out += [
                f"Prüfprotokoll  {scan.when:%d.%m.%Y}  {scan.when:%H:%M}",
                f"Fahrzeug: {scan.car.number}   {scan.car.make} {scan.car.model}",
                f"Kilometerstand: {f'{scan.km:,}'.replace(',', '.')} km",
                "",
            ]
        else:
            out += [
                "Diagnostic report",
                f"Date: {scan.when:%Y-%m-%d}   Time: {scan.when:%H:%M}",
                f"Vehicle: {scan.car.number} ({scan.car.make} {scan.car.model})",
                f"Mileage: {scan.km} km",
                "",
            ]
        for place, (module, faults) in enumerate(scan.modules, 1):
            out.append(f"[{place:02}] {names[module]}")
            out += [f"    {fault.code}  {fault.text} ({words[fault.status]})" for fault in faults]
            if not faults:
                out.append("    kein Fehler gespeichert" if german else "    no faults stored")
        out += ["", "-" * 40]
    return made(
        "printed blocks", "report.txt", "\n".join(out).encode("cp1252" if german else "utf-8"), scan_rows(truth)
    )


def fixed_width(rng: random.Random) -> Export:
    """Columns of a fixed width."""
    truth = draw(rng)
    words = STATUS[rng.choice(("english", "present"))]
    head = f"{'VEHICLE':<9}{'DATE':<18}{'KM':>8}  {'MODULE':<8}{'CODE':<7}{'STATUS':<15}{'DESCRIPTION'}"
    out = [head] + (["-" * 80] if rng.random() < 0.5 else [])
    for scan, module, fault in flat(truth):
        code, status, text = (fault.code, words[fault.status], fault.text) if fault else ("", "", "")
        out.append(
            f"{scan.car.number:<9}{scan.when:%d.%m.%Y %H:%M}  {scan.km:>8}  {module:<8}{code:<7}{status:<15}{text}"
        )
    return made("fixed width", "list.txt", "\r\n".join(line.rstrip() for line in out), scan_rows(truth))


def html_table(rng: random.Random) -> Export:
    """A page with a table of codes, and another one that says nothing of codes."""
    truth = draw(rng)
    words = STATUS[rng.choice(("english", "french"))]
    french = words["active"] == "présent"
    head = (
        ["Véhicule", "Date", "Kilométrage", "Calculateur", "Code défaut", "État", "Libellé"]
        if french
        else ["Vehicle", "Date", "Odometer", "Control unit", "Fault code", "State", "Description"]
    )
    line = "".join(f"<th>{html.escape(name)}</th>" for name in head)
    body = []
    for scan, module, fault in flat(truth):
        cells = [
            scan.car.number,
            f"{scan.when:%d/%m/%Y %H:%M}",
            f"{scan.km} km",
            module,
            *((fault.code, words[fault.status], fault.text) if fault else ("", "", "")),
        ]
        body.append("<tr>" + "".join(f"<td>{html.escape(str(cell))}</td>" for cell in cells) + "</tr>")
    page = (
        "<!DOCTYPE html><html><head><meta charset='utf-8'><title>x</title><style>td {color: red}</style></head><body>"
        f"<table><tr><td>Printed</td><td>today</td></tr></table><table border=1><thead><tr>{line}</tr></thead><tbody>"
        + "\n".join(body)
        + "</tbody></table></body></html>"
    )
    return made("html", "export.html", page, scan_rows(truth))


def pdf(rng: random.Random) -> Export:
    """A PDF with a page a scan."""
    truth = draw(rng)
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=A4)
    bracket = rng.random() < 0.5
    for scan in truth.scans:
        lines = [
            "Vehicle diagnosis",
            f"Stock number {scan.car.number}",
            f"Date {scan.when:%d.%m.%Y %H:%M}",
            f"Odometer {scan.km} km",
            "",
        ]
        for place, (module, faults) in enumerate(scan.modules, 1):
            lines.append(f"[{place:02}] {NAMES['plain'][module]}" if bracket else f"{NAMES['plain'][module]}:")
            lines += [f"   {fault.code}   {fault.text}   {fault.status}" for fault in faults] or ["   No fault codes"]
        for at, line in enumerate(lines):
            canvas.drawString(50 + 10 * (len(line) - len(line.lstrip())), 800 - 16 * at, line.strip())
        canvas.showPage()
    canvas.save()
    return made("pdf", "report.pdf", out.getvalue(), scan_rows(truth))


def json_nested(rng: random.Random) -> Export:
    """Lists inside lists."""
    truth = draw(rng)
    epoch = rng.random() < 0.5
    scans = [
        {
            "vehicle": {"stockNumber": scan.car.number, "make": scan.car.make, "modelYear": scan.car.year},
            "timestamp": scan.when.replace(tzinfo=UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
            if not epoch
            else int(scan.when.replace(tzinfo=UTC).timestamp()),
            "odometer": {"value": scan.km, "unit": "km"},
            "ecus": [
                {
                    "name": module,
                    "dtcs": [
                        {"code": fault.code, "status": fault.status, "description": fault.text} for fault in faults
                    ],
                }
                for module, faults in scan.modules
            ],
        }
        for scan in truth.scans
    ]
    return made("json", "scans.json", json.dumps({"exported": "2026-01-05", "scans": scans}), scan_rows(truth))


def zipped(rng: random.Random) -> Export:
    """A packed folder with one table a car."""
    truth = draw(rng)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for car in truth.cars:
            lines: list[list[object]] = [["Vehicle", "Scan date", "Km", "Module", "DTC", "Status", "Description"]]
            for scan, module, fault in flat(truth):
                if scan.car == car:
                    told = (fault.code, fault.status, fault.text) if fault else ("", "", "")
                    lines.append([car.number, scan.when.strftime("%Y-%m-%d %H:%M"), scan.km, module, *told])
            packed.writestr(f"export/{car.number}.csv", delimited(lines, ";"))
    return made("zip", "all.zip", out.getvalue(), scan_rows(truth))
