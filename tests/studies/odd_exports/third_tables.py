"""Delimited tables of the third set; part of ``fresh_third``."""

from __future__ import annotations

import random

from tests.studies.odd_exports.export import NAMES, STATUS, Export, Row, delimited, flat, made, scan_rows, told
from tests.studies.odd_exports.truth import draw

_STATES = ("active", "pending", "confirmed", "history")


def letterhead(rng: random.Random) -> Export:
    """The workshop's address and the day of printing above the table, a greeting below it."""
    truth = draw(rng)
    lines: list[list[object]] = [
        ["Autohaus Lindner am Markt"],
        ["Marktweg 4", "", "Telefon 0555 0301"],
        ["Ausdruck vom", "02.01.2026", "Seite 1"],
        [],
        ["Kfz-Nr.", "Diagnose am", "km-Stand", "Steuergerät", "Fehlercode", "Fehlerstatus", "Fehlertext"],
    ]
    for scan, module, fault in flat(truth):
        cells = told(fault, STATUS["german"])
        lines.append([scan.car.number, f"{scan.when:%d.%m.%Y %H:%M}", scan.km, NAMES["german"][module], *cells])
    lines += [[], ["Vielen Dank für Ihr Vertrauen"]]
    return made("letterhead", "ausdruck.csv", delimited(lines, ";").encode("cp1252"), scan_rows(truth))


def swedish(rng: random.Random) -> Export:
    """Swedish headings and states."""
    truth = draw(rng)
    words = {"active": "aktiv", "pending": "väntande", "confirmed": "lagrad", "history": "historisk"}
    lines: list[list[object]] = [["Fordon", "Datum", "Mätarställning (km)", "Styrenhet", "Felkod", "Status", "Text"]]
    for scan, module, fault in flat(truth):
        lines.append([scan.car.number, f"{scan.when:%Y-%m-%d %H.%M}", scan.km, module, *told(fault, words)])
    return made("swedish", "felkoder.csv", delimited(lines, ";"), scan_rows(truth))


def separator_line(rng: random.Random) -> Export:
    """A first line that names the separator, every cell quoted, blank columns at the end."""
    truth = draw(rng)
    lines = ['"Unit no.";"Read on";"At";"Distance (km)";"System";"Trouble code";"State";"";""']
    for scan, module, fault in flat(truth):
        cells = (scan.car.number, f"{scan.when:%d/%m/%Y}", f"{scan.when:%H:%M:%S}", scan.km, module)
        lines.append(";".join(f'"{cell}"' for cell in (*cells, *told(fault, text=False), "", "")))
    return made("separator line", "export.csv", "\n".join(["sep=;", *lines]), scan_rows(truth, text=False))


def split_code(rng: random.Random) -> Export:
    """The letter of a code in one column and its four signs in the next."""
    truth = draw(rng)
    lines: list[list[object]] = [["Vehicle", "Date", "Km", "Module", "Code letter", "Code digits", "Status"]]
    for scan, module, fault in flat(truth):
        cells = (fault.code[0], fault.code[1:], fault.status) if fault else ("", "", "")
        lines.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, module, *cells])
    return made("split code", "split.csv", delimited(lines), scan_rows(truth, text=False))


def short_years(rng: random.Random) -> Export:
    """Years of two digits, numbers with a thin blank between thousands, the unit in the cell."""
    truth = draw(rng)
    lines: list[list[object]] = [["Car", "Scan", "Clocked", "ECU", "DTC", "DTC state"]]
    for scan, module, fault in flat(truth):
        km = f"{scan.km:,} km".replace(",", "\u202f")
        lines.append([scan.car.number, f"{scan.when:%d.%m.%y %H:%M}", km, module, *told(fault, text=False)])
    return made("short years", "short.csv", delimited(lines, "\t"), scan_rows(truth, text=False))


def american(rng: random.Random) -> Export:
    """Month first, a twelve-hour clock in a column of its own, miles with commas."""
    truth = draw(rng)
    lines: list[list[object]] = [
        ["Stock #", "Scan Date", "Scan Time", "Mileage (mi)", "Module", "DTC", "Status", "Desc"]
    ]
    rows = scan_rows(truth)
    for row in rows:
        row["km"] = round(int(str(row["km"])) / 1.609344) * 1.609344
    for scan, module, fault in flat(truth):
        cells = (f"{scan.when:%m/%d/%Y}", f"{scan.when:%I:%M %p}", f"{round(scan.km / 1.609344):,}")
        lines.append([scan.car.number, *cells, NAMES["plain"][module], *told(fault, STATUS["english"])])
    return made("american", "scan log.csv", delimited(lines), rows)


def zoned(rng: random.Random) -> Export:
    """Times of day in universal time with a letter behind, fractions of a second."""
    truth = draw(rng)
    lines: list[list[object]] = [["asset", "timestamp", "odo_km", "controller", "dtc", "dtc_status", "dtc_text"]]
    for scan, module, fault in flat(truth):
        when = f"{scan.when:%Y-%m-%dT%H:%M}:07.120Z"
        lines.append([scan.car.number, when, f"{scan.km}.0", module, *told(fault)])
    return made("zoned", "telemetry.csv", delimited(lines, end="\n"), scan_rows(truth))


def compact_days(rng: random.Random) -> Export:
    """Days as eight digits and hours as four, in two columns."""
    truth = draw(rng)
    lines: list[list[object]] = [["VEH", "DATE", "TIME", "KM", "MODULE", "CODE", "STATUS"]]
    for scan, module, fault in flat(truth):
        cells = (f"{scan.when:%Y%m%d}", f"{scan.when:%H%M}", scan.km, module, *told(fault, text=False))
        lines.append([scan.car.number, *cells])
    return made("compact days", "DUMP.CSV", delimited(lines, "|"), scan_rows(truth, text=False))


def ticked(rng: random.Random) -> Export:
    """A column a state, with a cross in the one that holds."""
    truth = draw(rng)
    lines: list[list[object]] = [
        ["Vehicle", "Date", "Km", "Module", "Code", "Active", "Pending", "Confirmed", "History"]
    ]
    for scan, module, fault in flat(truth):
        crosses = ["X" if fault and fault.status == state else "" for state in _STATES]
        code = fault.code if fault else ""
        lines.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, module, code, *crosses])
    return made("ticked", "ticked.csv", delimited(lines), scan_rows(truth, text=False))


def lettered(rng: random.Random) -> Export:
    """States as single letters that a legend below the table explains."""
    truth = draw(rng)
    letters = dict(zip(_STATES, "ADSH", strict=True))
    lines: list[list[object]] = [["Vehicle", "Date", "Km", "Module", "Code", "St"]]
    for scan, module, fault in flat(truth):
        cells = (scan.km, module, *told(fault, letters, text=False))
        lines.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", *cells])
    lines += [[], ["A = active, D = pending, S = confirmed, H = history"]]
    return made("lettered", "letters.csv", delimited(lines, ";"), scan_rows(truth, text=False))


def twin_headings(rng: random.Random) -> Export:
    """Two columns of the same name for codes and two for their states."""
    truth = draw(rng, most_codes=2)
    lines: list[list[object]] = [["Vehicle", "Date", "Km", "Module", "Code", "Status", "Code", "Status"]]
    for scan in truth.scans:
        for module, faults in scan.modules:
            cells = [cell for fault in faults for cell in (fault.code, fault.status)]
            padded = [*cells, "", "", "", ""][:4]
            lines.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, module, *padded])
    return made("twin headings", "twin.csv", delimited(lines), scan_rows(truth, text=False))


def both_units(rng: random.Random) -> Export:
    """The odometer in km and in miles, beside a distance since the last service."""
    truth = draw(rng)
    lines: list[list[object]] = [
        ["Vehicle", "Date", "Service due in km", "Odometer km", "Odometer mi", "Module", "Code", "Status", "Text"]
    ]
    for scan, module, fault in flat(truth):
        cells = (30_000 - scan.km % 30_000, scan.km, round(scan.km / 1.609344), module)
        lines.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", *cells, *told(fault)])
    return made("both units", "units.csv", delimited(lines), scan_rows(truth))


def other_days(rng: random.Random) -> Export:
    """Three columns of days: when it was printed, first registered, and read."""
    truth = draw(rng)
    lines: list[list[object]] = [
        ["Printed", "Vehicle", "First registered", "Scan date", "Km", "Module", "Code", "Status", "Text"]
    ]
    for scan, module, fault in flat(truth):
        cells = ("31.12.2025", scan.car.number, f"15.03.{scan.car.year}", f"{scan.when:%d.%m.%Y %H:%M}", scan.km)
        lines.append([*cells, module, *told(fault)])
    return made("other days", "days.csv", delimited(lines, ";"), scan_rows(truth))


def maker_codes(rng: random.Random) -> Export:
    """A maker's own number beside each generic code."""
    truth = draw(rng)
    lines: list[list[object]] = [["Vehicle", "Date", "Km", "Module", "Maker code", "OBD code", "Status", "Text"]]
    for scan, module, fault in flat(truth):
        own = f"{rng.randrange(0x1000, 0xFFFF):04X}" if fault else ""
        lines.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, module, own, *told(fault)])
    return made("maker codes", "maker.csv", delimited(lines), scan_rows(truth))


def crossed(rng: random.Random) -> Export:
    """One line a scan and a column for each code there is, with its state where it is set."""
    truth = draw(rng)
    heads = sorted(
        {(module, fault.code) for scan in truth.scans for module, faults in scan.modules for fault in faults}
    )
    lines: list[list[object]] = [["Vehicle", "Date", "Km", *(f"{module} {code}" for module, code in heads)]]
    for scan in truth.scans:
        found = {(module, fault.code): fault.status for module, faults in scan.modules for fault in faults}
        cells = [found.get(head, "") for head in heads]
        lines.append([scan.car.number, f"{scan.when:%Y-%m-%d %H:%M}", scan.km, *cells])
    return made("crossed", "cross.csv", delimited(lines), scan_rows(truth, text=False, clean=False))


def month_or_day(rng: random.Random) -> Export:
    """Every day could be a month, years of two digits: nothing tells."""
    truth = draw(rng, first_days_only=True)
    lines: list[list[object]] = [["Vehicle", "Date", "Km", "Module", "Code", "Status"]]
    for scan, module, fault in flat(truth):
        cells = (f"{scan.when:%d-%m-%y %H:%M}", scan.km, module, *told(fault, text=False))
        lines.append([scan.car.number, *cells])
    rows = scan_rows(truth, text=False)
    return Export(
        kind="month or day", name="either.csv", content=delimited(lines).encode(), table="scans", rows=rows, asks=True
    )


def stock_german(rng: random.Random) -> Export:
    """A stock list, German, with points between thousands and a money word."""
    truth = draw(rng)
    lines: list[list[object]] = [["Bestandsnr.", "Hersteller", "Modell", "Baujahr", "Verkaufspreis"]]
    rows: list[Row] = []
    for car in truth.cars:
        price = f"{car.price:,.2f} EUR".replace(",", "_").replace(".", ",").replace("_", ".")
        lines.append([car.number, car.make, car.model, car.year, price])
        row: Row = {"vehicle": car.number, "make": car.make, "model": car.model}
        rows.append(row | {"model_year": str(car.year), "asking_price": car.price})
    return made("stock german", "bestand.csv", delimited(lines, ";").encode("cp1252"), rows, "stock")
