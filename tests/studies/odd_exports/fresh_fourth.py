"""A fourth set of shapes: 20 of a dealer's everyday kinds, written down whole, committed, and only then run.

Its author had just mended the readers, so it is no blind set; the first figure is the one that counts all the same.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from typing import Any

from tests.studies.odd_exports.export import (
    NAMES,
    STATUS,
    Export,
    Row,
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

_CODED = {"ECM": "01", "TCM": "02", "ABS": "03", "BCM": "09", "SRS": "15"}
_FULL = {"ECM": "Engine control", "TCM": "Transmission", "ABS": "ABS", "BCM": "Body", "SRS": "Airbag"}


def chat(rng: random.Random) -> Export:
    """Messages of a chat: moment, who wrote, then car, distance and the codes of one module."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        for module, faults in scan.modules:
            said = ", ".join(f"{fault.code} ({fault.status})" for fault in faults) or "no codes"
            out.append(f"{scan.when:%d.%m.%Y %H:%M} - Ina: {scan.car.number} at {scan.km} km, {module}: {said}")
    return made("chat", "chat.txt", "\n".join(out), scan_rows(truth, text=False))


def piped(rng: random.Random) -> Export:
    """A log with bars between its values and no names."""
    truth = draw(rng)
    out = []
    for scan, module, fault in flat(truth):
        code, status, text = told(fault)
        begin = f"{scan.when:%Y-%m-%d %H:%M} | {scan.car.number} | {scan.km} km"
        out.append(f"{begin} | {module} | {code or '-'} | {status} | {text}")
    return made("piped", "scan.log", "\n".join(out), scan_rows(truth))


def slip(rng: random.Random) -> Export:
    """A slip of paper a scan, an address before each module, a count of the pages and an end."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        out += ["WORKSHOP SLIP", f"Car {scan.car.number}   Read {scan.when:%d/%m/%Y %H:%M}   {scan.km:,} km", ""]
        for module, faults in scan.modules:
            out.append(f"{_CODED[module]} {_FULL[module].upper()} (address {_CODED[module]})")
            out += [f"  {fault.code}  {fault.text}  {fault.status}" for fault in faults] or ["  no faults"]
            out.append("  no further entries")
        out += ["page 1 of 1", "*** end of print-out ***", ""]
    return made("slip", "slips.txt", "\n".join(out), scan_rows(truth))


def spanish(rng: random.Random) -> Export:
    """A Spanish report with the wording on a line of its own."""
    truth = draw(rng)
    names = {"ECM": "Motor", "TCM": "Caja de cambios", "ABS": "Frenos", "BCM": "Carrocería", "SRS": "Airbag"}
    words = {"active": "presente", "pending": "pendiente", "confirmed": "memorizado", "history": "pasado"}
    out = []
    for scan in truth.scans:
        out += [
            "INFORME DE DIAGNOSIS",
            f"Vehículo: {scan.car.number}",
            f"Fecha: {scan.when:%d/%m/%Y} Hora: {scan.when:%H:%M}",
        ]
        out.append(f"Kilometraje: {scan.km:,} km".replace(",", "."))
        for module, faults in scan.modules:
            out.append(f"Centralita: {names[module]}")
            for fault in faults:
                out += [f"  Código: {fault.code}", f"  Descripción: {fault.text}", f"  Estado: {words[fault.status]}"]
            out += [] if faults else ["  Sin averías"]
    return made("spanish", "informe.txt", "\n".join(out).encode("cp1252"), scan_rows(truth))


def markdown(rng: random.Random) -> Export:
    """A table as wiki pages have it, bars at both ends."""
    truth = draw(rng)
    out = ["# Readings", "", "| Car | Read at | Km | Unit | Code | State | Meaning |", "|---|---|---:|---|---|---|---|"]
    for scan, module, fault in flat(truth):
        cells = (scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", str(scan.km), NAMES["plain"][module], *told(fault))
        out.append(f"| {' | '.join(cells)} |")
    return made("markdown", "readings.md", "\n".join(out), scan_rows(truth))


def group_rows(rng: random.Random) -> Export:
    """A table in which a module's name stands alone in its row, its codes in the rows below."""
    truth = draw(rng)
    rows: list[list[object]] = [["Stock no.", "Scanned", "Km", "DTC", "How is it", "Meaning"]]
    for scan in truth.scans:
        for module, faults in scan.modules:
            rows.append([NAMES["plain"][module], "", "", "", "", ""])
            for fault in faults:
                rows.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, *told(fault)])
            if not faults:
                rows.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, "none", "", ""])
    return made("group rows", "groups.csv", delimited(rows, ";"), scan_rows(truth))


def three_bytes(rng: random.Random) -> Export:
    """Codes as three bytes in hex, the state as a status byte."""
    truth = draw(rng)
    rows: list[list[object]] = [["car", "time", "km", "ecu", "dtc hex", "status byte"]]
    wanted: list[Row] = []
    for scan, module, fault in flat(truth):
        base: Row = {
            "vehicle": scan.car.number,
            "scanned_at": f"{scan.when:%Y-%m-%d %H:%M}",
            "km": scan.km,
            "module": module,
        }
        byte = rng.choice(("2F", "08", "04", "2C"))
        cell = ""
        if fault is not None:
            number = "PCBU".index(fault.code[0]) << 14 | int(fault.code[1]) << 12 | int(fault.code[2:], 16)
            cell = f"{number:04X}{rng.choice((0x08, 0x11, 0x1C, 0x62)):02X}"
        code = None if fault is None else f"{fault.code}-{cell[4:]}"
        wanted.append({**base, "code": code, "status": byte if fault else None})
        rows.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, module, cell, byte if fault else ""])
    return made("three bytes", "raw.csv", delimited(rows), wanted)


def one_line(rng: random.Random) -> Export:
    """A whole scan along a line, modules parted by semicolons."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        pieces = [
            f"{NAMES['plain'][module]} " + (", ".join(f"{fault.code} {fault.status}" for fault in faults) or "ok")
            for module, faults in scan.modules
        ]
        out.append(f"{scan.car.number} {scan.when:%d.%m.%Y %H:%M} {scan.km} km: {'; '.join(pieces)}")
    return made("one line", "lines.txt", "\n".join(out), scan_rows(truth, text=False))


def wide_slashes(rng: random.Random) -> Export:
    """A row a scan, a column a module, several codes with a slash between them."""
    truth = draw(rng)
    modules = ("ECM", "TCM", "ABS", "BCM", "SRS")
    rows: list[list[object]] = [["Car", "Date", "Km", *(NAMES["german"][module] for module in modules)]]
    for scan in truth.scans:
        held = dict(scan.modules)
        cells = [
            "not read" if module not in held else " / ".join(fault.code for fault in held[module]) or "i.O."
            for module in modules
        ]
        rows.append([scan.car.number, f"{scan.when:%d.%m.%Y %H:%M}", scan.km, *cells])
    wanted = scan_rows(truth, status=False, text=False)
    return made("wide slashes", "matrix.csv", delimited(rows, ";"), wanted)


def month_names(rng: random.Random) -> Export:
    """UTF-16 with tabs; months by their names, a clock of twelve hours."""
    truth = draw(rng)
    rows: list[list[object]] = [
        ["Reg", "Date read", "Odometer (km)", "System", "Fault code", "State now", "Description"]
    ]
    for scan, module, fault in flat(truth):
        when = f"{scan.when:%d %b %Y %I:%M %p}"
        rows.append([scan.car.number, when, scan.km, NAMES["plain"][module], *told(fault)])
    return made("month names", "reads.csv", delimited(rows, "\t").encode("utf-16"), scan_rows(truth))


def keyed_days(rng: random.Random) -> Export:
    """JSON by car and moment: the keys are what other files have in columns."""
    truth = draw(rng)
    tree: dict[str, list[object]] = {}
    for scan in truth.scans:
        modules = {
            module: [{"code": fault.code, "status": fault.status, "text": fault.text} for fault in faults]
            for module, faults in scan.modules
        }
        tree.setdefault(scan.car.number, []).append(
            {"at": f"{scan.when:%Y-%m-%dT%H:%M:00Z}", "km": scan.km, "modules": modules}
        )
    return made("keyed days", "cars.json", json.dumps(tree), scan_rows(truth))


def count_columns(rng: random.Random) -> Export:
    """A workbook: a title, a blank row, headings with blanks before them, a sheet of notes beside it."""
    truth = draw(rng)

    def fill(book: Any) -> None:
        sheet, notes = book.add_worksheet("Read-outs"), book.add_worksheet("Notes")
        put(sheet, 0, ["Read-outs of the yard"])
        put(sheet, 2, ("Car", "When", "Mileage km", "Control unit", "Trouble code", "How is it", "What it says"), 1)
        for at, (scan, module, fault) in enumerate(flat(truth), 3):
            cells = (scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, NAMES["plain"][module])
            put(sheet, at, (*cells, *told(fault, STATUS["present"])), 1)
        put(notes, 0, ["Ask Ina about the airbag."])

    return made("count columns", "yard.xlsx", workbook(fill), scan_rows(truth))


def html_cards(rng: random.Random) -> Export:
    """A page with a heading a scan and a list of codes a module."""
    truth = draw(rng)
    body = []
    for scan in truth.scans:
        body.append(f"<h2>Car {scan.car.number}, {scan.when:%Y-%m-%d %H:%M}, {scan.km} km</h2>")
        for module, faults in scan.modules:
            body.append(f"<h3>{NAMES['plain'][module]}</h3><ul>")
            body += [f"<li>{fault.code}: {fault.text} [{fault.status}]</li>" for fault in faults] or [
                "<li>no codes</li>"
            ]
            body.append("</ul>")
    return made(
        "html cards", "page.html", f"<html><body>{''.join(body)}<p>end of report</p></body></html>", scan_rows(truth)
    )


def labour_money(rng: random.Random) -> Export:
    """A repair book whose labour is money beside the price of the part: what an hour costs has to be asked."""
    truth = draw(rng)
    rows: list[list[object]] = [["Auftrag", "Fahrzeug", "Datum", "km-Stand", "Teil", "Arbeit", "Teilepreis", "Lohn"]]
    for job in truth.jobs:
        cost, wage = f"{job.cost:.2f}".replace(".", ","), f"{job.minutes * 0.75:.2f}".replace(".", ",")
        rows.append([job.job, job.car.number, f"{job.day:%d.%m.%Y}", job.km, job.part, "ersetzt", cost, wage])
    whole = made("labour money", "werkstatt.csv", delimited(rows, ";"), repair_rows(truth), "repairs")
    return Export(**{**vars(whole), "asks": True})


def works(rng: random.Random) -> Export:
    """A repair list that says in one cell what was done to which part; each third part was cleaned or adjusted."""
    truth = draw(rng)
    rows: list[list[object]] = [["Job", "Stock no", "Done", "Odometer km", "Work done", "Part price", "Minutes"]]
    wanted = repair_rows(truth)
    words = (("replaced", "replace"), ("cleaned", "clean"), ("adjusted", "adjust"), ("checked", "inspect"))
    for row, job in zip(wanted, truth.jobs, strict=True):
        said, row["action"] = rng.choice(words)
        rows.append(
            [job.job, job.car.number, f"{job.day:%Y-%m-%d}", job.km, f"{said} {job.part}", job.cost, job.minutes]
        )
    return made("works", "work.csv", delimited(rows), wanted, "repairs")


def stock_plates(rng: random.Random) -> Export:
    """A stock list with stock number and plate, prices with a dash for no cents."""
    truth = draw(rng)
    rows: list[list[object]] = [["Stock no", "Reg", "Make", "Model", "Year", "Asking price"]]
    wanted: list[Row] = []
    for place, car in enumerate(truth.cars):
        plate = f"LT {40 + place} {chr(65 + place)}KM"
        rows.append([car.number, plate, car.make, car.model, car.year, f"€ {int(car.price)},-"])
        wanted.append(
            {"vehicle": car.number, "plate": plate, "make": car.make, "model": car.model, "model_year": str(car.year)}
            | {"asking_price": float(int(car.price))}
        )
    return made("stock plates", "stock.csv", delimited(rows, ";"), wanted, "stock")


def price_book(rng: random.Random) -> Export:
    """A price book with the time to fit as hours and minutes."""
    truth = draw(rng)
    rows: list[list[object]] = [["Article", "Buying price EUR", "Fitting time h"]]
    wanted: list[Row] = []
    for part, cost, minutes in truth.parts:
        rows.append([part, f"{cost:.2f}".replace(".", ","), f"{minutes // 60}:{minutes % 60:02}"])
        wanted.append({"part": part, "part_cost": cost, "labour_minutes": minutes})
    return made("price book", "prices.csv", delimited(rows, ";"), wanted, "parts")


def letters(rng: random.Random) -> Export:
    """States as letters that a line above the table explains; two empty columns."""
    truth = draw(rng)
    marks = {"active": "A", "pending": "P", "confirmed": "S", "history": "H"}
    rows: list[list[object]] = [["A = active, P = pending, S = stored, H = history"], []]
    rows.append(["Vehicle", "Date", "Km", "", "Module", "Code", "", "St"])
    for scan, module, fault in flat(truth):
        code, state = (fault.code, marks[fault.status]) if fault else ("", "")
        rows.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, "", module, code, "", state])
    width = 8
    rows = [[*row, *[""] * (width - len(row))] for row in rows]
    return made("letters", "letters.csv", delimited(rows, ";"), scan_rows(truth, text=False))


def miles(rng: random.Random) -> Export:
    """Miles with commas between thousands behind the word, the code and its wording in one cell."""
    truth = draw(rng)
    rows: list[list[object]] = [["Car no.", "Tested", "Mileage", "ECU", "Fault", "Presence"]]
    wanted = scan_rows(truth)
    for scan, module, fault in flat(truth):
        cell = f"{fault.code} {fault.text}" if fault else "No fault"
        words = STATUS["present"]
        state = words[fault.status] if fault else ""
        rows.append(
            [
                scan.car.number,
                f"{scan.when:%Y/%m/%d %H:%M}",
                f"{round(scan.km / 1.609344):,} miles",
                module,
                cell,
                state,
            ]
        )
    for row in wanted:
        row["km"] = round(int(str(row["km"])) / 1.609344) * 1.609344
    return made("miles", "tests.csv", delimited(rows, ","), wanted)


def zoned_text(rng: random.Random) -> Export:
    """Printed blocks whose moments carry the Z of UTC, values led to by dots."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        out += [f"Vehicle ........ {scan.car.number}", f"Taken .......... {scan.when:%Y-%m-%dT%H:%M:00Z}"]
        out.append(f"Odometer ....... {scan.km} km")
        for module, faults in scan.modules:
            out.append(f"[{_CODED[module]}] {NAMES['plain'][module]}")
            out += [f"    {fault.code} - {fault.text} - {fault.status}" for fault in faults] or ["    no codes stored"]
        out.append("end of report")
    return made("zoned text", "blocks.txt", "\n".join(out), scan_rows(truth))


SHAPES: tuple[Callable[[random.Random], Export], ...] = (
    *(chat, piped, slip, spanish, markdown, group_rows, three_bytes, one_line, wide_slashes, month_names, keyed_days),
    *(count_columns, html_cards, labour_money, works, stock_plates, price_book, letters, miles, zoned_text),
)


def draw_fourth(seed: int) -> list[Export]:
    """Return one export of each shape."""
    return [shape(random.Random(f"{seed} {shape.__name__}")) for shape in SHAPES]
