"""Fresh shapes of delimited text and workbooks; part of ``fresh_set``."""

from __future__ import annotations

import random
from datetime import UTC, datetime
from typing import Any

from tests.studies.odd_exports.export import NAMES, Export, Row, delimited, flat, made, put, scan_rows, told, workbook
from tests.studies.odd_exports.truth import Scan, Truth, draw

POLISH = {"active": "aktywny", "pending": "oczekujący", "confirmed": "zapisany", "history": "historyczny"}
SPANISH = {"active": "activo", "pending": "pendiente", "confirmed": "memorizado", "history": "pasivo"}
ITALIAN = {"active": "attivo", "pending": "in attesa", "confirmed": "memorizzato", "history": "storico"}
DUTCH = {"active": "actief", "pending": "in afwachting", "confirmed": "opgeslagen", "history": "historisch"}
MILE = 1.609344


def alone(truth: Truth, scan: Scan) -> Truth:
    """Return a truth of one scan only."""
    return Truth(cars=(scan.car,), scans=(scan,), jobs=(), parts=())


def wide_pairs(rng: random.Random) -> Export:
    """Code and status in pairs of columns, one line a module."""
    truth = draw(rng)
    lines: list[list[object]] = [["Stock", "Scan date", "km", "Unit"]]
    for n in (1, 2, 3):
        lines[0] += [f"Code {n}", f"Status {n}"]
    for scan in truth.scans:
        for module, faults in scan.modules:
            cells = [cell for fault in faults for cell in (fault.code, fault.status)]
            lines.append(
                [scan.car.number, f"{scan.when:%d.%m.%Y %H:%M}", scan.km, module, *cells, *[""] * (6 - len(cells))]
            )
    return made("wide pairs", "pairs.csv", delimited(lines, ";"), scan_rows(truth, text=False))


def wide_named(rng: random.Random) -> Export:
    """One line a scan; a column a module, headed by the module and a word."""
    truth = draw(rng)
    heads = [f"{NAMES['plain'][module]} codes" for module in ("ECM", "TCM", "ABS", "BCM", "SRS")]
    lines: list[list[object]] = [["Vehicle", "Date", "Mileage (km)", *heads]]
    for scan in truth.scans:
        found = dict(scan.modules)
        cells = [
            (" / ".join(fault.code for fault in found[module]) or "none") if module in found else ""
            for module in ("ECM", "TCM", "ABS", "BCM", "SRS")
        ]
        lines.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, *cells])
    return made("wide named", "named.csv", delimited(lines), scan_rows(truth, status=False, text=False))


def wide_status(rng: random.Random) -> Export:
    """A column a state, codes in it."""
    truth = draw(rng)
    heads = {
        "Active codes": "active",
        "Pending codes": "pending",
        "Stored codes": "confirmed",
        "History codes": "history",
    }
    lines: list[list[object]] = [["Car", "Date", "Odometer km", "Module", *heads]]
    for scan in truth.scans:
        for module, faults in scan.modules:
            cells = [", ".join(fault.code for fault in faults if fault.status == state) for state in heads.values()]
            lines.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, module, *cells])
    return made("wide status", "states.csv", delimited(lines, ";"), scan_rows(truth, text=False))


def long_items(rng: random.Random) -> Export:
    """A line an item: what it is, and its value."""
    truth = draw(rng)
    lines: list[list[object]] = [["Vehicle", "Date", "Km", "Module", "Item", "Value"]]
    for scan, module, fault in flat(truth):
        if fault is not None:
            base = [scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, module]
            lines += [[*base, "Code", fault.code], [*base, "Status", fault.status], [*base, "Text", fault.text]]
    return made("long items", "items.csv", delimited(lines), scan_rows(truth, clean=False))


def polish(rng: random.Random) -> Export:
    """Polish headings and states, tabs, Windows-1250."""
    truth = draw(rng)
    lines: list[list[object]] = [["Pojazd", "Data", "Przebieg [km]", "Sterownik", "Kod błędu", "Status", "Opis"]]
    for scan, module, fault in flat(truth):
        lines.append([scan.car.number, f"{scan.when:%d.%m.%Y %H:%M}", scan.km, module, *told(fault, POLISH)])
    return made("polish", "bledy.txt", delimited(lines, "\t").encode("cp1250"), scan_rows(truth))


def spanish(rng: random.Random) -> Export:
    """Spanish headings, states and thousands."""
    truth = draw(rng)
    lines: list[list[object]] = [
        ["Vehículo", "Fecha", "Hora", "Kilometraje", "Centralita", "Código", "Estado", "Descripción"]
    ]
    for scan, module, fault in flat(truth):
        km = f"{scan.km:,}".replace(",", ".")
        lines.append(
            [scan.car.number, f"{scan.when:%d/%m/%Y}", f"{scan.when:%H:%M}", km, module, *told(fault, SPANISH)]
        )
    return made("spanish", "averias.csv", delimited(lines, ";").encode("cp1252"), scan_rows(truth))


def italian(rng: random.Random) -> Export:
    """Italian headings, states, and a point in the time of day."""
    truth = draw(rng)
    lines: list[list[object]] = [
        ["Veicolo", "Data", "Chilometraggio", "Centralina", "Codice guasto", "Stato", "Descrizione"]
    ]
    for scan, module, fault in flat(truth):
        lines.append([scan.car.number, f"{scan.when:%d/%m/%Y %H.%M}", f"{scan.km} km", module, *told(fault, ITALIAN)])
    return made("italian", "guasti.csv", delimited(lines, ";"), scan_rows(truth))


def dutch(rng: random.Random) -> Export:
    """Dutch headings and states, bars."""
    truth = draw(rng)
    lines: list[list[object]] = [["Voertuig", "Datum", "Tijd", "Kilometerstand", "Regeleenheid", "Foutcode", "Status"]]
    for scan, module, fault in flat(truth):
        cells = told(fault, DUTCH, text=False)
        lines.append([scan.car.number, f"{scan.when:%d-%m-%Y}", f"{scan.when:%H:%M}", scan.km, module, *cells])
    return made("dutch", "fouten.csv", delimited(lines, "|"), scan_rows(truth, text=False))


def month_names(rng: random.Random) -> Export:
    """Month names in front, a twelve-hour clock."""
    truth = draw(rng)
    lines: list[list[object]] = [["Unit no.", "Scanned", "Miles", "ECU", "DTC", "State", "Meaning"]]
    rows = scan_rows(truth)
    for at, (scan, module, fault) in enumerate(flat(truth)):
        miles = round(scan.km / MILE)
        rows[at]["km"] = round(miles * MILE)
        when = f"{scan.when:%b} {scan.when.day}, {scan.when.year} {scan.when:%I:%M %p}"
        lines.append([scan.car.number, when, miles, NAMES["plain"][module], *told(fault)])
    return made("month names", "months.csv", delimited(lines), rows)


def hex_addresses(rng: random.Random) -> Export:
    """Answering addresses in hex for modules, codes with a failure type, status bytes."""
    truth = draw(rng)
    bytes_of = {"active": "2F", "pending": "04", "confirmed": "08", "history": "28"}
    address = {"ECM": "0x7E8", "TCM": "0x7E9"}
    lines: list[list[object]] = [["vehicle", "timestamp", "odometer_km", "address", "dtc", "status"]]
    rows: list[Row] = []
    for scan, module, fault in flat(truth):
        if module in address:
            cells = (f"{fault.code}-{rng.choice(('00', '13', '2F'))}", bytes_of[fault.status]) if fault else ("", "")
            lines.append([scan.car.number, f"{scan.when:%Y-%m-%dT%H:%M:%S}", scan.km, address[module], *cells])
            row: Row = {"vehicle": scan.car.number, "scanned_at": f"{scan.when:%Y-%m-%d %H:%M}", "km": scan.km}
            rows.append(row | {"module": module, "code": cells[0] or None, "status": cells[1] or None})
    return made("hex addresses", "uds.csv", delimited(lines), rows)


def code_and_text(rng: random.Random) -> Export:
    """Code and wording in one cell, the state in another."""
    truth = draw(rng)
    lines: list[list[object]] = [["Fahrzeug", "Zeitpunkt", "km-Stand", "Modul", "Fehlereintrag", "Zustand"]]
    words = {"active": "aktiv", "pending": "unbestätigt", "confirmed": "gespeichert", "history": "nicht vorhanden"}
    for scan, module, fault in flat(truth):
        cells = (f"{fault.code} {fault.text}", words[fault.status]) if fault else ("kein Eintrag", "")
        lines.append([scan.car.number, f"{scan.when:%d.%m.%y %H:%M}", scan.km, NAMES["german"][module], *cells])
    return made("code and text", "eintraege.csv", delimited(lines, ";").encode("utf-8-sig"), scan_rows(truth))


def code_text_state(rng: random.Random) -> Export:
    """Code, wording and state in one cell."""
    truth = draw(rng)
    lines: list[list[object]] = [["Vehicle", "Date", "Time", "Odometer", "Control unit", "Trouble code"]]
    for scan, module, fault in flat(truth):
        cell = f"{fault.code}: {fault.text} ({fault.status})" if fault else "no codes"
        lines.append(
            [
                scan.car.number,
                f"{scan.when:%d/%m/%Y}",
                f"{scan.when:%H:%M}",
                f"{scan.km} km",
                NAMES["plain"][module],
                cell,
            ]
        )
    return made("code text state", "troubles.csv", delimited(lines), scan_rows(truth))


def codes_with_texts(rng: random.Random) -> Export:
    """Several codes in a cell, each with its wording."""
    truth = draw(rng)
    lines: list[list[object]] = [["Vehicle", "Date", "Km", "Module", "Faults"]]
    for scan in truth.scans:
        for module, faults in scan.modules:
            cell = " | ".join(f"{fault.code} {fault.text}" for fault in faults) or "-"
            lines.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, module, cell])
    return made("codes with texts", "faults.csv", delimited(lines, ";"), scan_rows(truth, status=False))


def totals(rng: random.Random) -> Export:
    """A title, headings that are repeated, sums and a last line."""
    truth = draw(rng)
    head: list[object] = ["Vehicle", "Scan date", "Km", "Module", "Code", "Status"]
    lines: list[list[object]] = [["Fault list of the workshop", "", "", "", "", ""], ["", "", "", "", "", ""], head]
    for at, (scan, module, fault) in enumerate(flat(truth)):
        if at and at % 15 == 0:
            lines += [["Page", at // 15, "", "", "", ""], head]
        cells = told(fault, text=False)
        lines.append([scan.car.number, f"{scan.when:%d.%m.%Y %H:%M}", scan.km, module, *cells])
    lines += [
        ["Total", "", "", "", sum(fault is not None for *_, fault in flat(truth)), ""],
        ["End of list"] + [""] * 5,
    ]
    return made("totals", "list.csv", delimited(lines, ";"), scan_rows(truth, text=False))


def car_above(rng: random.Random) -> Export:
    """One scan: the car, the day and the odometer stand above the table."""
    truth = draw(rng)
    truth = alone(truth, truth.scans[0])
    scan = truth.scans[0]
    lines: list[list[object]] = [
        ["Fahrzeug", scan.car.number],
        ["Marke", scan.car.make],
        ["Ausgelesen am", f"{scan.when:%d.%m.%Y %H:%M}"],
        ["Kilometerstand", scan.km],
        [],
        ["Steuergerät", "Fehlercode", "Status", "Beschreibung"],
    ]
    words = {"active": "aktiv", "pending": "vorläufig", "confirmed": "gespeichert", "history": "passiv"}
    lines += [[NAMES["german"][module], *told(fault, words)] for _, module, fault in flat(truth)]
    return made("car above", "auslesen.csv", delimited(lines, ";").encode("cp1252"), scan_rows(truth))


def car_in_name(rng: random.Random) -> Export:
    """One scan: the car and the moment stand in the file's name alone."""
    truth = draw(rng)
    truth = alone(truth, truth.scans[0])
    scan = truth.scans[0]
    lines: list[list[object]] = [["Module", "Code", "Status", "Description"]]
    lines += [[module, *told(fault)] for _, module, fault in flat(truth)]
    name = f"scan_{scan.car.number}_{scan.when:%Y-%m-%d_%H-%M}.csv"
    return made("car in name", name, delimited(lines), scan_rows(truth, odometer=False))


def grouped(rng: random.Random) -> Export:
    """A line with a module alone above the lines of its codes; the car stands in each."""
    truth = draw(rng)
    lines: list[list[object]] = [["Vehicle", "Date", "Km", "Code", "Status", "Text"]]
    for module in ("ECM", "TCM", "ABS", "BCM", "SRS"):
        lines.append([NAMES["plain"][module], "", "", "", "", ""])
        for scan, name, fault in flat(truth):
            if name == module:
                lines.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, *told(fault)])
    return made("grouped", "grouped.csv", delimited(lines), scan_rows(truth))


def epoch_miles(rng: random.Random) -> Export:
    """Counted time, miles with a column for the unit."""
    truth = draw(rng)
    lines: list[list[object]] = [["ts", "stock_no", "odo", "odo_unit", "ecu", "code", "state"]]
    rows = scan_rows(truth, text=False)
    for at, (scan, module, fault) in enumerate(flat(truth)):
        miles = round(scan.km / MILE)
        rows[at]["km"] = round(miles * MILE)
        stamp = int(scan.when.replace(tzinfo=UTC).timestamp() * 1000)
        lines.append([stamp, scan.car.number, miles, "mi", module, *told(fault, text=False)])
    return made("epoch miles", "dump.csv", delimited(lines), rows)


def vin_of(number: str) -> str:
    """Return the invented vehicle number of a car."""
    return f"9ZZKN0N{int(number[1:]):010}"


def vin_only(rng: random.Random) -> Export:
    """No stock number, the vehicle number only."""
    truth = draw(rng)
    lines: list[list[object]] = [["FIN", "Prüfdatum", "Laufleistung", "Steuergerät", "Fehler", "Fehlertext"]]
    rows: list[Row] = []
    for row, (scan, module, fault) in zip(scan_rows(truth, status=False), flat(truth), strict=True):
        cells = (fault.code, fault.text) if fault else ("", "")
        km = f"{scan.km:,} km".replace(",", ".")
        lines.append([vin_of(scan.car.number), f"{scan.when:%d.%m.%Y %H:%M}", km, NAMES["german"][module], *cells])
        rows.append({"vin": vin_of(scan.car.number)} | {name: cell for name, cell in row.items() if name != "vehicle"})
    return made("vin only", "fin.csv", delimited(lines, ";"), rows)


def serial_csv(rng: random.Random) -> Export:
    """Days of a spreadsheet with a decimal comma."""
    truth = draw(rng)
    base = datetime(1899, 12, 30)
    lines: list[list[object]] = [["Car", "Scan date", "Km", "Module", "Fault code", "Status"]]
    for scan, module, fault in flat(truth):
        serial = f"{(scan.when - base).total_seconds() / 86_400:.6f}".replace(".", ",")
        lines.append([scan.car.number, serial, scan.km, module, *told(fault, text=False)])
    return made("serial csv", "serial.csv", delimited(lines, ";"), scan_rows(truth, text=False))


def merged_down(rng: random.Random) -> Export:
    """A workbook in which car, day and odometer stand once for all lines of a scan."""
    truth = draw(rng)

    def write(book: Any) -> None:
        sheet = book.add_worksheet("Scans")
        put(sheet, 0, ("Vehicle", "Date", "Odometer km", "Module", "Code", "Status", "Text"))
        at = 1
        for scan in truth.scans:
            first, count = at, sum(max(1, len(faults)) for _, faults in scan.modules)
            for place, cell in enumerate((scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km)):
                if count > 1:
                    sheet.merge_range(first, place, first + count - 1, place, cell)
                else:
                    sheet.write(first, place, cell)
            for _, module, fault in flat(alone(truth, scan)):
                put(sheet, at, (module, *told(fault)), 3)
                at += 1

    return made("merged down", "scans.xlsx", workbook(write), scan_rows(truth))


def sheet_a_module(rng: random.Random) -> Export:
    """A workbook with a sheet a module, whose name is on the tab only."""
    truth = draw(rng)

    def write(book: Any) -> None:
        for module in ("ECM", "TCM", "ABS", "BCM", "SRS"):
            sheet = book.add_worksheet(NAMES["plain"][module])
            put(sheet, 0, ("Vehicle", "Date", "Km", "Code", "Status", "Text"))
            at = 1
            for scan, name, fault in flat(truth):
                if name == module:
                    put(sheet, at, (scan.car.number, f"{scan.when:%d.%m.%Y %H:%M}", scan.km, *told(fault)))
                    at += 1

    return made("sheet a module", "modules.xlsx", workbook(write), scan_rows(truth))


def sheet_with_head(rng: random.Random) -> Export:
    """A sheet for one scan: labels and values above the table, the day a real one."""
    truth = draw(rng)
    truth = alone(truth, truth.scans[0])
    scan = truth.scans[0]

    def write(book: Any) -> None:
        sheet = book.add_worksheet("Report")
        sheet.write(0, 0, "Scan report")
        put(sheet, 2, ("Stock no.", scan.car.number))
        sheet.write(3, 0, "Date of scan")
        sheet.write_datetime(3, 1, scan.when, book.add_format({"num_format": "dd.mm.yyyy hh:mm"}))
        put(sheet, 4, ("Odometer (km)", scan.km))
        put(sheet, 6, ("System", "Code", "Status", "Text"))
        for at, (_, module, fault) in enumerate(flat(truth), 7):
            put(sheet, at, (NAMES["plain"][module], *told(fault)))

    return made("sheet with head", "report.xlsx", workbook(write), scan_rows(truth))


def merged_modules(rng: random.Random) -> Export:
    """A workbook, one line a scan; a module's name stands merged above its two columns."""
    truth = draw(rng, most_codes=1)

    def write(book: Any) -> None:
        sheet = book.add_worksheet("Overview")
        put(sheet, 1, ("Vehicle", "Date", "Km"))
        for place, module in enumerate(("ECM", "TCM", "ABS", "BCM", "SRS")):
            sheet.merge_range(0, 3 + 2 * place, 0, 4 + 2 * place, NAMES["plain"][module])
            put(sheet, 1, ("Code", "Status"), 3 + 2 * place)
        for at, scan in enumerate(truth.scans, 2):
            put(sheet, at, (scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km))
            for module, faults in scan.modules:
                place = 3 + 2 * ("ECM", "TCM", "ABS", "BCM", "SRS").index(module)
                put(sheet, at, told(faults[0] if faults else None, text=False) if faults else ("none", ""), place)

    return made("merged modules", "overview.xlsx", workbook(write), scan_rows(truth, text=False))


def formula_book(rng: random.Random) -> Export:
    """A workbook with a cover, hidden rows, real dates and codes that are formulas with stored values."""
    truth = draw(rng)

    def write(book: Any) -> None:
        cover = book.add_worksheet("Cover")
        put(cover, 0, ("Workshop", "North"))
        sheet = book.add_worksheet("Data")
        form = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
        put(sheet, 0, ("Vehicle", "Read on", "Kilometres", "Control module", "DTC", "State"))
        for at, (scan, module, fault) in enumerate(flat(truth), 1):
            sheet.write(at, 0, scan.car.number)
            sheet.write_datetime(at, 1, scan.when, form)
            put(sheet, at, (scan.km, NAMES["plain"][module]), 2)
            if fault is not None:
                sheet.write_formula(at, 4, f'="{fault.code[:2]}"&"{fault.code[2:]}"', None, fault.code)
                sheet.write(at, 5, fault.status)
            if at % 4 == 0:
                sheet.set_row(at, None, None, {"hidden": True})

    return made("formula book", "data.xlsx", workbook(write), scan_rows(truth, text=False))


def stock_french(rng: random.Random) -> Export:
    """A stock list, French, with blanks between thousands."""
    truth = draw(rng)
    lines: list[list[object]] = [["Véhicule", "Marque", "Modèle", "Année", "Prix (EUR)"]]
    rows: list[Row] = []
    for car in truth.cars:
        price = f"{car.price:,.2f}".replace(",", " ").replace(".", ",")
        lines.append([car.number, car.make, car.model, car.year, price])
        rows.append(
            {
                "vehicle": car.number,
                "make": car.make,
                "model": car.model,
                "model_year": str(car.year),
                "asking_price": car.price,
            }
        )
    return made("stock french", "parc.csv", delimited(lines, ";").encode("cp1252"), rows, "stock")


def repairs_french(rng: random.Random) -> Export:
    """A repair book, French, with money signs."""
    truth = draw(rng)
    lines: list[list[object]] = [["Véhicule", "Ordre", "Date", "Kilométrage", "Opération", "Pièce", "Prix", "Minutes"]]
    rows: list[Row] = []
    for job in truth.jobs:
        price = f"{job.cost:.2f} €".replace(".", ",")
        lines.append([job.car.number, job.job, f"{job.day:%d/%m/%Y}", job.km, "remplacé", job.part, price, job.minutes])
        row: Row = {"vehicle": job.car.number, "job": job.job, "done_at": f"{job.day:%Y-%m-%d}", "km": job.km}
        row |= {"action": "replace", "part": job.part, "part_cost": job.cost, "labour_minutes": job.minutes}
        rows.append(row)
    return made("repairs french", "travaux.csv", delimited(lines, ";"), rows, "repairs")
