"""Printed texts, pages and PDFs of the third set; part of ``fresh_third``."""

from __future__ import annotations

import html
import random

from tests.studies.odd_exports.export import NAMES, STATUS, Export, flat, made, scan_rows, told
from tests.studies.odd_exports.fresh_texts import pdf_of
from tests.studies.odd_exports.truth import draw


def report_german(rng: random.Random) -> Export:
    """A German report: thousands with a point, a count of faults a module, a row of signs between scans."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        out += ["*" * 60, "DIAGNOSEPROTOKOLL", f"Fahrzeug-Nr. : {scan.car.number}"]
        out.append(f"Datum        : {scan.when:%d.%m.%Y}   Uhrzeit: {scan.when:%H:%M}")
        out.append(f"Kilometer    : {scan.km:,} km".replace(",", "."))
        for module, faults in scan.modules:
            out.append(f"Steuergerät: {NAMES['german'][module]}   Anzahl Fehler: {len(faults)}")
            out += [f"   {fault.code}  {fault.text}  ({STATUS['german'][fault.status]})" for fault in faults]
        out.append("")
    return made("report german", "protokoll.txt", "\r\n".join(out).encode("cp1252"), scan_rows(truth))


def drawn_tree(rng: random.Random) -> Export:
    """Branches drawn with lines: scan, modules, codes."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        out.append(f"{scan.car.number}  {scan.when:%Y-%m-%d %H:%M}  {scan.km} km")
        for module, faults in scan.modules:
            out.append(f"├── {module}")
            out += [f"│   ├── {fault.code} ({fault.status}) {fault.text}" for fault in faults] or ["│   └── none"]
    return made("drawn tree", "tree.txt", "\n".join(out), scan_rows(truth))


def pairs_a_line(rng: random.Random) -> Export:
    """A line a code; each value behind its name and an equals sign."""
    truth = draw(rng)
    out = []
    for scan, module, fault in flat(truth):
        line = f"car={scan.car.number} at={scan.when:%Y-%m-%dT%H:%M:00} km={scan.km} module={module}"
        if fault:
            line += f' dtc={fault.code} state={fault.status} text="{fault.text}"'
        out.append(line)
    return made("pairs a line", "scan.log", "\n".join(out), scan_rows(truth))


def bracketed(rng: random.Random) -> Export:
    """A section a scan in square brackets, and a line a module: its codes behind an equals sign."""
    truth = draw(rng)
    out = []
    for number, scan in enumerate(truth.scans, 1):
        out += [f"[scan {number}]", f"vehicle={scan.car.number}", f"date={scan.when:%Y-%m-%d %H:%M}", f"km={scan.km}"]
        for module, faults in scan.modules:
            out.append(f"{NAMES['plain'][module]}={','.join(fault.code for fault in faults) or 'none'}")
        out.append("")
    return made("bracketed", "scans.ini", "\n".join(out), scan_rows(truth, status=False, text=False))


def quoted_mail(rng: random.Random) -> Export:
    """A letter with a report in it, every line behind a sign of quoting."""
    truth = draw(rng)
    out = ["Hello,", "below are the readings you asked for.", "Regards, Ina", ""]
    for scan in truth.scans:
        out += [f"> Vehicle: {scan.car.number}", f"> Date: {scan.when:%d.%m.%Y %H:%M}", f"> Odometer: {scan.km} km"]
        for module, faults in scan.modules:
            out.append(f"> Module: {module}")
            out += [f">   {fault.code} - {fault.text} - {fault.status}" for fault in faults] or [">   no faults"]
        out.append(">")
    return made("quoted mail", "mail.txt", "\n".join(out), scan_rows(truth))


def dashes(rng: random.Random) -> Export:
    """A listing of keys and values with dashes for the items below."""
    truth = draw(rng)
    out = ["scans:"]
    for scan in truth.scans:
        out += [
            f"- vehicle: {scan.car.number}",
            f"  date: {scan.when:%Y-%m-%d %H:%M}",
            f"  km: {scan.km}",
            "  modules:",
        ]
        for module, faults in scan.modules:
            out.append(f"  - name: {module}")
            out.append("    codes:" if faults else "    codes: []")
            for fault in faults:
                out += [f"    - code: {fault.code}", f"      status: {fault.status}", f"      text: {fault.text}"]
    return made("dashes", "scans.yaml", "\n".join(out), scan_rows(truth))


def two_a_line(rng: random.Random) -> Export:
    """Printed narrow: the code with its state on one line, the wording on the next; the module in capitals."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        out += [f"VEHICLE {scan.car.number}", f"READ ON {scan.when:%d.%m.%Y} AT {scan.when:%H:%M}", f"AT {scan.km} KM"]
        for module, faults in scan.modules:
            out.append(f"-- {NAMES['plain'][module].upper()} --")
            for fault in faults:
                out += [f"{fault.code} {fault.status.upper()}", f"  {fault.text}"]
            out += [] if faults else ["OK"]
        out += ["", "=" * 24]
    return made("two a line", "receipt.txt", "\n".join(out), scan_rows(truth))


def ruled_columns(rng: random.Random) -> Export:
    """Columns of a fixed width below a rule of dashes, the scan in a line above each."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        out.append(f"Vehicle {scan.car.number}, {scan.when:%d %b %Y %H:%M}, {scan.km} km")
        out += [f"{'Module':<10}{'Code':<8}{'State':<11}Meaning", f"{'-' * 9} {'-' * 7} {'-' * 10} {'-' * 30}"]
        for module, faults in scan.modules:
            out += [f"{module:<10}{fault.code:<8}{fault.status:<11}{fault.text}" for fault in faults] or [
                f"{module:<10}{'-':<8}{'-':<11}-"
            ]
        out.append("")
    return made("ruled columns", "ruled.txt", "\n".join(out), scan_rows(truth))


def plain_cells(rng: random.Random) -> Export:
    """A page whose headings are plain cells in bold, inside a table that only lays out."""
    truth = draw(rng)
    head = "".join(f"<td><b>{name}</b></td>" for name in ("Vehicle", "Date", "Km", "Module", "DTC", "State", "Meaning"))
    body = []
    for scan, module, fault in flat(truth):
        cells = (scan.car.number, f"{scan.when:%d.%m.%Y %H:%M}", scan.km, NAMES["plain"][module], *told(fault))
        body.append("<tr>" + "".join(f"<td>{html.escape(str(cell))}&nbsp;</td>" for cell in cells) + "</tr>")
    inner = f"<table border=1><tr>{head}</tr>{''.join(body)}</table>"
    page = f"<html><body><table><tr><td><h1>Readings</h1></td></tr><tr><td>{inner}</td></tr></table></body></html>"
    return made("plain cells", "readings.html", page, scan_rows(truth))


def defined(rng: random.Random) -> Export:
    """A page with a card a scan: terms and what they are, codes in a list of lines."""
    truth = draw(rng)
    body = []
    for scan in truth.scans:
        body.append(
            f"<div class='card'><dl><dt>Vehicle</dt><dd>{scan.car.number}</dd>"
            f"<dt>Date</dt><dd>{scan.when:%Y-%m-%d %H:%M}</dd><dt>Odometer</dt><dd>{scan.km} km</dd></dl>"
        )
        for module, faults in scan.modules:
            lines = "<br>".join(f"{fault.code} {fault.text} ({fault.status})" for fault in faults) or "no codes"
            body.append(f"<h4>{module}</h4><p>{lines}</p>")
        body.append("</div>")
    return made("defined", "cards.html", f"<body>{''.join(body)}</body>", scan_rows(truth))


def typewritten(rng: random.Random) -> Export:
    """A page with nothing but a typewritten block: columns by blanks."""
    truth = draw(rng)
    lines = [f"{'Car':<7}{'Date':<18}{'Km':>8}  {'Module':<8}{'Code':<7}{'Status':<10}"]
    for scan, module, fault in flat(truth):
        code, status = told(fault, text=False)
        lines.append(f"{scan.car.number:<7}{scan.when:%Y-%m-%d %H:%M}  {scan.km:>8}  {module:<8}{code:<7}{status:<10}")
    page = f"<html><body><pre>\n{chr(10).join(lines)}\n</pre></body></html>"
    return made("typewritten", "typed.html", page, scan_rows(truth, text=False))


def pdf_letters(rng: random.Random) -> Export:
    """A PDF with a page a scan: labels to the left, values to the right, a small table below."""
    truth = draw(rng)
    pages = []
    for scan in truth.scans:
        page = [(40.0, 800.0, "Scan report")]
        labels = (
            ("Stock no.", scan.car.number),
            ("Date", f"{scan.when:%d.%m.%Y %H:%M}"),
            ("Odometer", f"{scan.km} km"),
        )
        for at, (label, value) in enumerate(labels):
            page += [(40.0, 770.0 - 16 * at, label), (200.0, 770.0 - 16 * at, value)]
        places = (40.0, 120.0, 190.0, 280.0)
        page += [(x, 700.0, name) for x, name in zip(places, ("Module", "Code", "State", "Meaning"), strict=True)]
        lines = [(module, *told(fault)) for module, faults in scan.modules for fault in (faults or (None,))]
        for at, line in enumerate(lines):
            page += [(x, 680.0 - 16 * at, cell) for x, cell in zip(places, line, strict=True) if cell]
        pages.append(page)
    return made("pdf letters", "letters.pdf", pdf_of(pages), scan_rows(truth))
