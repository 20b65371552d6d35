"""Twenty more fresh shapes, drawn after the readers were mended on ``fresh_set``; run once, as those."""

from __future__ import annotations

import io
import json
import random
import zipfile
from collections.abc import Callable
from typing import Any

from tests.studies.odd_exports.export import NAMES, Export, Row, delimited, flat, made, put, scan_rows, told, workbook
from tests.studies.odd_exports.fresh_tables import alone, vin_of
from tests.studies.odd_exports.fresh_texts import pdf_of
from tests.studies.odd_exports.truth import draw

_PORTUGUESE = {"active": "ativo", "pending": "pendente", "confirmed": "armazenado", "history": "passado"}
_FRENCH = {"active": "présent", "pending": "en attente", "confirmed": "mémorisé", "history": "historique"}
_GERMAN = {"active": "aktiv", "pending": "sporadisch", "confirmed": "gespeichert", "history": "passiv"}


def portuguese(rng: random.Random) -> Export:
    """Portuguese headings and states."""
    truth = draw(rng)
    lines: list[list[object]] = [["Viatura", "Data", "Hora", "Quilometragem", "Módulo", "Código de avaria", "Estado"]]
    for scan, module, fault in flat(truth):
        cells = told(fault, _PORTUGUESE, text=False)
        lines.append([scan.car.number, f"{scan.when:%d/%m/%Y}", f"{scan.when:%H:%M}", scan.km, module, *cells])
    return made("portuguese", "avarias.csv", delimited(lines, ";"), scan_rows(truth, text=False))


def counted(rng: random.Random) -> Export:
    """A running number, a count of faults, and the faults of a module in one cell with blanks between."""
    truth = draw(rng)
    lines: list[list[object]] = [
        ["#", "Vehicle ID", "Date/Time", "Odometer [km]", "Control unit", "Fault count", "Faults"]
    ]
    for scan in truth.scans:
        for module, faults in scan.modules:
            cells = (len(faults), " ".join(fault.code for fault in faults))
            lines.append([len(lines), scan.car.number, f"{scan.when:%Y/%m/%d %H:%M}", scan.km, module, *cells])
    return made("counted", "counted.csv", delimited(lines), scan_rows(truth, status=False, text=False))


def french_hours(rng: random.Random) -> Export:
    """Month names in French and hours as in 14h05."""
    truth = draw(rng)
    months = ("janv.", "févr.", "mars", "avr.", "mai", "juin", "juil.", "août", "sept.", "oct.", "nov.", "déc.")
    lines: list[list[object]] = [
        ["Immatriculation", "Date de lecture", "Km", "Calculateur", "Code défaut", "Statut", "Libellé"]
    ]
    for scan, module, fault in flat(truth):
        when = f"{scan.when.day} {months[scan.when.month - 1]} {scan.when.year} {scan.when:%Hh%M}"
        lines.append([scan.car.number, when, scan.km, module, *told(fault, _FRENCH)])
    return made("french hours", "lecture.csv", delimited(lines, ";").encode("cp1252"), scan_rows(truth))


def boxed_scans(rng: random.Random) -> Export:
    """A line for the scan, and below it a box with its codes."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        out += [
            f"Scan of vehicle {scan.car.number} on {scan.when:%Y-%m-%d %H:%M} at {scan.km} km",
            "+------+-------+----------+",
        ]
        out += ["| Unit | Code  | State    |", "+------+-------+----------+"]
        for _, module, fault in flat(alone(truth, scan)):
            code, state = told(fault, text=False)
            out.append(
                f"| {module:<4} | {code:<5} | {state:<8} |"
                if len(state) < 9
                else f"| {module:<4} | {code:<5} | {state} |"
            )
        out += ["+------+-------+----------+", ""]
    return made("boxed scans", "boxes.txt", "\n".join(out), scan_rows(truth, text=False))


def pipes(rng: random.Random) -> Export:
    """Bars at both ends and a rule below the headings."""
    truth = draw(rng)
    out = ["| Vehicle | Date | Km | Module | Code | Status | Text |", "|---|---|---:|---|---|---|---|"]
    for scan, module, fault in flat(truth):
        cells = (scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, module, *told(fault))
        out.append("| " + " | ".join(map(str, cells)) + " |")
    return made("pipes", "table.md", "\n".join(out), scan_rows(truth))


def rowspans(rng: random.Random) -> Export:
    """A page whose cells for car, day and module go over several rows."""
    truth = draw(rng)
    body = []
    for scan in truth.scans:
        count = sum(max(1, len(faults)) for _, faults in scan.modules)
        first = f"<td rowspan='{count}'>{scan.car.number}</td><td rowspan='{count}'>{scan.when:%d.%m.%Y %H:%M}</td>"
        first += f"<td rowspan='{count}'>{scan.km} km</td>"
        for module, faults in scan.modules:
            name = f"<td rowspan='{max(1, len(faults))}'>{module}</td>"
            for fault in faults or (None,):
                body.append(
                    "<tr>" + first + name + "".join(f"<td>{cell}</td>" for cell in told(fault, text=False)) + "</tr>"
                )
                first = name = ""
    head = "".join(f"<th>{name}</th>" for name in ("Vehicle", "Date", "Odometer", "Module", "Code", "Status"))
    page = f"<html><body><table><tr>{head}</tr>{''.join(body)}</table></body></html>"
    return made("rowspans", "spans.html", page, scan_rows(truth, text=False))


def blanks_repeat(rng: random.Random) -> Export:
    """What is the same as in the line above is left blank."""
    truth = draw(rng)
    lines: list[list[object]] = [["Fahrzeug", "Datum", "km-Stand", "Steuergerät", "Fehlercode", "Fehlertext"]]
    for scan in truth.scans:
        head: list[object] = [scan.car.number, f"{scan.when:%d.%m.%Y %H:%M}", scan.km]
        for module, faults in scan.modules:
            name = NAMES["german"][module]
            for fault in faults or (None,):
                lines.append([*head, name, *((fault.code, fault.text) if fault else ("kein Fehler", ""))])
                head, name = ["", "", ""], ""
    return made("blanks repeat", "liste.csv", delimited(lines, ";").encode("cp1252"), scan_rows(truth, status=False))


def sheet_a_scan(rng: random.Random) -> Export:
    """A workbook with a sheet a scan, named by car and day; the odometer above the table."""
    truth = draw(rng)

    def write(book: Any) -> None:
        for number, scan in enumerate(truth.scans):
            sheet = book.add_worksheet(f"{scan.car.number} {scan.when:%Y-%m-%d} {number}")
            put(sheet, 0, ("Odometer", f"{scan.km} km"))
            put(sheet, 2, ("Module", "Code", "Status"))
            for at, (_, module, fault) in enumerate(flat(alone(truth, scan)), 3):
                put(sheet, at, (module, *told(fault, text=False)))

    return made("sheet a scan", "visits.xlsx", workbook(write), scan_rows(truth, text=False, day_only=True))


def numbered_print(rng: random.Random) -> Export:
    """A German printout: numbered modules with addresses, a count of faults, and the state below each code."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        out += [
            "Fahrzeugdiagnose",
            f"Fahrzeug-Nr.: {scan.car.number}",
            f"Datum: {scan.when:%d.%m.%Y}",
            f"Uhrzeit: {scan.when:%H:%M}",
        ]
        out += [f"km-Stand: {scan.km}", ""]
        for number, (module, faults) in enumerate(scan.modules, 1):
            out += [f"Steuergerät {number:02}: {NAMES['german'][module]}", f"  Anzahl Fehler: {len(faults)}"]
            for place, fault in enumerate(faults, 1):
                out += [f"  {place:03}: {fault.code} {fault.text}", f"       Status: {_GERMAN[fault.status]}"]
            out += [] if faults else ["  Keine Fehler"]
    rows = scan_rows(truth)
    for row in rows:
        row["status"] = "confirmed" if row["status"] == "pending" else row["status"]
    return made("numbered print", "diagnose.txt", "\r\n".join(out).encode("cp1252"), rows)


def pdf_french(rng: random.Random) -> Export:
    """A French PDF with a page a scan."""
    truth = draw(rng)
    pages = []
    for scan in truth.scans:
        lines = [
            "Rapport de diagnostic",
            f"Véhicule : {scan.car.number}",
            f"Date : {scan.when:%d/%m/%Y} à {scan.when:%H:%M}",
        ]
        lines.append(f"Kilométrage : {scan.km} km")
        for module, faults in scan.modules:
            lines.append(f"Calculateur : {module}")
            lines += [f"{fault.code} - {fault.text} - {_FRENCH[fault.status]}" for fault in faults] or ["Aucun défaut"]
        pages.append([(60.0, 800.0 - 17 * at, line) for at, line in enumerate(lines)])
    return made("pdf french", "rapport.pdf", pdf_of(pages), scan_rows(truth))


def json_visits(rng: random.Random) -> Export:
    """JSON: cars, their visits, and a plain list of codes that each name their module."""
    truth = draw(rng)
    cars = [
        {
            "vin": vin_of(car.number),
            "visits": [
                {
                    "at": f"{scan.when:%d.%m.%Y %H:%M}",
                    "mileage": {"km": scan.km},
                    "dtcs": [
                        {"ecu": module, "id": fault.code, "state": fault.status, "label": fault.text}
                        for module, faults in scan.modules
                        for fault in faults
                    ],
                }
                for scan in truth.scans
                if scan.car == car and any(faults for _, faults in scan.modules)
            ],
        }
        for car in truth.cars
    ]
    rows: list[Row] = []
    for row in scan_rows(truth, clean=False):
        rows.append(
            {"vin": vin_of(str(row["vehicle"]))} | {name: cell for name, cell in row.items() if name != "vehicle"}
        )
    return made("json visits", "cars.json", json.dumps({"cars": cars}), rows)


def xml_attributes(rng: random.Random) -> Export:
    """XML, one element a code, all in attributes."""
    truth = draw(rng)
    out = ["<log>"]
    for scan, module, fault in flat(truth):
        if fault is not None:
            out.append(
                f'<dtc stock="{scan.car.number}" time="{scan.when:%Y-%m-%dT%H:%M:%S}" odometerKm="{scan.km}" '
                f'module="{module}" code="{fault.code}" status="{fault.status}"/>'
            )
    return made("xml attributes", "log.xml", "\n".join([*out, "</log>"]), scan_rows(truth, clean=False, text=False))


def fixed_spanish(rng: random.Random) -> Export:
    """Spanish columns of a fixed width, numbers to the right."""
    truth = draw(rng)
    words = {"active": "activo", "pending": "pendiente", "confirmed": "memorizado", "history": "pasivo"}
    out = [
        "LISTADO DE AVERIAS",
        "",
        f"{'Coche':<8}{'Fecha':<18}{'Km':>9}  {'Centralita':<12}{'Codigo':<8}{'Estado':<12}",
    ]
    for scan, module, fault in flat(truth):
        code, state = told(fault, words, text=False)
        km = f"{scan.km:,}".replace(",", ".")
        out.append(
            f"{scan.car.number:<8}{scan.when:%d/%m/%Y %H:%M}  {km:>9}  {module:<12}{code:<8}{state:<12}".rstrip()
        )
    return made("fixed spanish", "listado.txt", "\n".join(out), scan_rows(truth, text=False))


def zip_books(rng: random.Random) -> Export:
    """A packed folder with a workbook a car."""
    truth = draw(rng)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for car in truth.cars:

            def write(book: Any, number: str = car.number) -> None:
                sheet = book.add_worksheet("Scans")
                put(sheet, 0, ("Vehicle", "Date", "Km", "Module", "Code", "Status"))
                at = 1
                for scan, module, fault in flat(truth):
                    if scan.car.number == number:
                        put(
                            sheet,
                            at,
                            (number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, module, *told(fault, text=False)),
                        )
                        at += 1

            packed.writestr(f"{car.number}.xlsx", workbook(write))
    return made("zip books", "books.zip", out.getvalue(), scan_rows(truth, text=False))


def swiss(rng: random.Random) -> Export:
    """Thousands with an apostrophe, days without a leading zero."""
    truth = draw(rng)
    lines: list[list[object]] = [["Fahrzeug", "Ausgelesen", "Kilometer", "Modul", "Fehlercode", "Zustand", "Bedeutung"]]
    for scan, module, fault in flat(truth):
        when = f"{scan.when.day}.{scan.when.month}.{scan.when.year} {scan.when:%H:%M}"
        km = f"{scan.km:,}".replace(",", "'")
        words = {
            "active": "aktuell vorhanden",
            "pending": "unbestätigt",
            "confirmed": "gespeichert",
            "history": "früher",
        }
        lines.append([scan.car.number, when, km, NAMES["german"][module], *told(fault, words)])
    return made("swiss", "werkstatt.csv", delimited(lines, ";").encode("utf-16"), scan_rows(truth))


def lines_in_cells(rng: random.Random) -> Export:
    """The codes of a module in one cell, a line each, with state in brackets."""
    truth = draw(rng)
    lines: list[list[object]] = [["Vehicle", "Scanned on", "Mileage", "ECU", "Codes"]]
    for scan in truth.scans:
        for module, faults in scan.modules:
            cell = "\n".join(f"{fault.code} ({fault.status})" for fault in faults) or "none"
            lines.append(
                [scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", f"{scan.km} km", NAMES["plain"][module], cell]
            )
    return made("lines in cells", "cells.csv", delimited(lines), scan_rows(truth, text=False))


def several_a_line(rng: random.Random) -> Export:
    """Printed: a line a module with all of its codes."""
    truth = draw(rng)
    out = []
    for scan in truth.scans:
        out.append(f"Vehicle {scan.car.number}, {scan.when:%d.%m.%Y %H:%M}, {scan.km} km")
        for module, faults in scan.modules:
            out.append(f"  {NAMES['plain'][module]}: " + (", ".join(fault.code for fault in faults) or "no codes"))
    return made("several a line", "short.txt", "\n".join(out), scan_rows(truth, status=False, text=False))


def commented(rng: random.Random) -> Export:
    """Tabs, with lines of remarks at the top, and the state as a byte."""
    truth = draw(rng)
    bytes_of = {"active": "2F", "pending": "04", "confirmed": "08", "history": "28"}
    rows = scan_rows(truth, text=False)
    for row in rows:
        row["status"] = bytes_of.get(str(row["status"]))
    lines: list[list[object]] = [["stock_number", "read_at", "mileage_km", "ecu_name", "dtc", "status_byte"]]
    for scan, module, fault in flat(truth):
        cells = (fault.code, f"0x{bytes_of[fault.status]}") if fault else ("", "")
        lines.append([scan.car.number, f"{scan.when:%Y-%m-%dT%H:%M:%S}", scan.km, module, *cells])
    text = "# fault dump\n# one line a code\n" + delimited(lines, "\t", "\n")
    return made("commented", "dump.tsv", text, rows)


def stock_json(rng: random.Random) -> Export:
    """A stock list as JSON."""
    truth = draw(rng)
    cars = [
        {
            "stockNumber": car.number,
            "manufacturer": car.make,
            "model": car.model,
            "year": car.year,
            "price": {"amount": car.price},
        }
        for car in truth.cars
    ]
    rows: list[Row] = [
        {
            "vehicle": car.number,
            "make": car.make,
            "model": car.model,
            "model_year": str(car.year),
            "asking_price": car.price,
        }
        for car in truth.cars
    ]
    return made("stock json", "stock.json", json.dumps({"cars": cars}), rows, "stock")


def repairs_book(rng: random.Random) -> Export:
    """A repair book as a workbook with real dates and a sum at its end."""
    truth = draw(rng)

    def write(book: Any) -> None:
        sheet = book.add_worksheet("Aufträge")
        form = book.add_format({"num_format": "dd.mm.yyyy"})
        put(sheet, 0, ("Auftragsnr.", "Wagen", "Erledigt am", "Kilometerstand", "Arbeit", "Ersatzteil", "Preis (EUR)"))
        for at, job in enumerate(truth.jobs, 1):
            put(sheet, at, (job.job, job.car.number))
            sheet.write_datetime(at, 2, job.day, form)
            put(sheet, at, (job.km, "getauscht", job.part, job.cost), 3)
        put(sheet, len(truth.jobs) + 1, ("Summe", "", "", "", "", "", sum(job.cost for job in truth.jobs)))

    rows: list[Row] = []
    for job in truth.jobs:
        row: Row = {"vehicle": job.car.number, "job": job.job, "done_at": f"{job.day:%Y-%m-%d}", "km": job.km}
        rows.append(row | {"action": "replace", "part": job.part, "part_cost": job.cost})
    return made("repairs book", "auftraege.xlsx", workbook(write), rows, "repairs")


SHAPES: tuple[Callable[[random.Random], Export], ...] = (
    portuguese,
    counted,
    french_hours,
    boxed_scans,
    pipes,
    rowspans,
    blanks_repeat,
    sheet_a_scan,
    numbered_print,
    pdf_french,
    json_visits,
    xml_attributes,
    fixed_spanish,
    zip_books,
    swiss,
    lines_in_cells,
    several_a_line,
    commented,
    stock_json,
    repairs_book,
)


def draw_again(seed: int) -> list[Export]:
    """Return one export of each shape."""
    return [shape(random.Random(f"{seed} {shape.__name__}")) for shape in SHAPES]
