"""The kinds of odd exports; each draws one file and the rows that a right reading gives.

What a shape does not print is not expected of it: a module without codes is expected where
the shape prints it, a status where it has one.
"""

from __future__ import annotations

import csv
import html
import io
import json
import random
import zipfile
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import xlsxwriter
from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

from tests.studies.odd_exports.truth import Fault, Scan, Truth, draw

Row = dict[str, object]

_NAMES = {
    "plain": {"ECM": "Engine", "TCM": "Gearbox", "ABS": "Brakes", "BCM": "Body", "SRS": "Airbag"},
    "short": {module: module for module in ("ECM", "TCM", "ABS", "BCM", "SRS")},
    "german": {"ECM": "Motor", "TCM": "Getriebe", "ABS": "Bremsen", "BCM": "Karosserie", "SRS": "Airbag"},
}
# What workshops' programs print for a status; common practice, no source.
_STATUS = {
    "english": {"active": "Active", "pending": "Pending", "confirmed": "Confirmed", "history": "History"},
    "german": {"active": "aktiv", "pending": "vorläufig", "confirmed": "gespeichert", "history": "passiv"},
    "french": {"active": "présent", "pending": "en attente", "confirmed": "mémorisé", "history": "historique"},
    "present": {"active": "present", "pending": "not confirmed", "confirmed": "stored", "history": "not present"},
    "sporadic": {
        "active": "permanent vorhanden",
        "pending": "unbestätigt",
        "confirmed": "sporadisch",
        "history": "inaktiv",
    },
}


@dataclass(frozen=True, kw_only=True)
class Export:
    """One odd file.

    Attributes:
        kind: The shape.
        name: Its file name.
        content: Its bytes.
        table: The table it belongs to.
        rows: What a right reading gives.
        asks: Nothing in the file can decide something; a right reading asks.
    """

    kind: str
    name: str
    content: bytes
    table: str
    rows: list[Row]
    asks: bool = False


def scan_rows(
    truth: Truth,
    *,
    clean: bool = True,
    status: bool = True,
    text: bool = True,
    day_only: bool = False,
    odometer: bool = True,
) -> list[Row]:
    """Return the rows of the scans, as far as a shape prints them."""
    rows: list[Row] = []
    for scan in truth.scans:
        base: Row = {
            "vehicle": scan.car.number,
            "scanned_at": scan.when.strftime("%Y-%m-%d" if day_only else "%Y-%m-%d %H:%M"),
        }
        if odometer:
            base["km"] = scan.km
        for module, faults in scan.modules:
            for fault in faults:
                row = {**base, "module": module, "code": fault.code}
                row |= {"status": fault.status} if status else {}
                row |= {"text": fault.text} if text else {}
                rows.append(row)
            if not faults and clean:
                rows.append(
                    {**base, "module": module, "code": None}
                    | ({"status": None} if status else {})
                    | ({"text": None} if text else {})
                )
    return rows


def _flat(truth: Truth) -> Iterable[tuple[Scan, str, Fault | None]]:
    for scan in truth.scans:
        for module, faults in scan.modules:
            for fault in faults or (None,):
                yield scan, module, fault


def _csv(rows: Iterable[Sequence[object]], delimiter: str = ",", end: str = "\r\n") -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=end).writerows(rows)
    return out.getvalue()


def wide_faults(rng: random.Random) -> Export:
    """Semicolons, one line a module, three columns for faults."""
    truth = draw(rng)
    head = rng.choice(
        (["Fehler 1", "Fehler 2", "Fehler 3"], ["Fault 1", "Fault 2", "Fault 3"], ["DTC1", "DTC2", "DTC3"])
    )
    german = head[0].startswith("Fehler")
    names = _NAMES["german" if german else "plain"]
    lines: list[list[object]] = [
        ["Fahrzeug", "Datum", "Kilometerstand", "Steuergerät", *head]
        if german
        else ["Stock no.", "Date", "Mileage km", "System", *head]
    ]
    for scan in truth.scans:
        for module, faults in scan.modules:
            codes = [fault.code for fault in faults] + [""] * (3 - len(faults))
            lines.append([scan.car.number, scan.when.strftime("%d.%m.%Y %H:%M"), scan.km, names[module], *codes])
    return Export(
        kind="wide faults",
        name="liste.csv",
        content=_csv(lines, ";").encode("utf-8-sig"),
        table="scans",
        rows=scan_rows(truth, status=False, text=False),
    )


def codes_in_cell(rng: random.Random) -> Export:
    """Several codes in one cell."""
    truth = draw(rng)
    mark = rng.choice((", ", " / ", "\n", " + ", " "))
    lines: list[list[object]] = [["Vehicle", "Read on", "Km", "Unit", "Codes"]]
    for scan in truth.scans:
        for module, faults in scan.modules:
            cell = mark.join(fault.code for fault in faults) or "none"
            lines.append([scan.car.number, scan.when.strftime("%Y-%m-%d %H:%M"), scan.km, module, cell])
    return Export(
        kind="codes in a cell",
        name="codes.csv",
        content=_csv(lines).encode(),
        table="scans",
        rows=scan_rows(truth, status=False, text=False),
    )


def one_column(rng: random.Random) -> Export:
    """Module, code, text and status in one column."""
    truth = draw(rng)
    names, words = _NAMES[rng.choice(("plain", "short"))], _STATUS[rng.choice(("english", "present"))]
    mark = rng.choice((" - ", " | ", ": "))
    lines: list[list[object]] = [["Car", "When", "Odometer (km)", "Fault entry"]]
    for scan, module, fault in _flat(truth):
        if fault is not None:
            cell = mark.join((names[module], fault.code, fault.text, words[fault.status]))
            lines.append([scan.car.number, scan.when.strftime("%d/%m/%Y %H:%M"), scan.km, cell])
    return Export(
        kind="one column",
        name="entries.csv",
        content=_csv(lines).encode(),
        table="scans",
        rows=scan_rows(truth, clean=False),
    )


def printed_blocks(rng: random.Random) -> Export:
    """A printed text with a block a scan."""
    truth = draw(rng)
    german = rng.random() < 0.5
    names, words = _NAMES["german" if german else "plain"], _STATUS["german" if german else "english"]
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
    return Export(
        kind="printed blocks",
        name="report.txt",
        content="\n".join(out).encode("cp1252" if german else "utf-8"),
        table="scans",
        rows=scan_rows(truth),
    )


def fixed_width(rng: random.Random) -> Export:
    """Columns of a fixed width."""
    truth = draw(rng)
    words = _STATUS[rng.choice(("english", "present"))]
    head = f"{'VEHICLE':<9}{'DATE':<18}{'KM':>8}  {'MODULE':<8}{'CODE':<7}{'STATUS':<15}{'DESCRIPTION'}"
    out = [head] + (["-" * 80] if rng.random() < 0.5 else [])
    for scan, module, fault in _flat(truth):
        code, status, text = (fault.code, words[fault.status], fault.text) if fault else ("", "", "")
        out.append(
            f"{scan.car.number:<9}{scan.when:%d.%m.%Y %H:%M}  {scan.km:>8}  {module:<8}{code:<7}{status:<15}{text}"
        )
    return Export(
        kind="fixed width",
        name="list.txt",
        content="\r\n".join(line.rstrip() for line in out).encode(),
        table="scans",
        rows=scan_rows(truth),
    )


def html_table(rng: random.Random) -> Export:
    """A page with a table of codes, and another one that says nothing of codes."""
    truth = draw(rng)
    words = _STATUS[rng.choice(("english", "french"))]
    french = words["active"] == "présent"
    head = (
        ["Véhicule", "Date", "Kilométrage", "Calculateur", "Code défaut", "État", "Libellé"]
        if french
        else ["Vehicle", "Date", "Odometer", "Control unit", "Fault code", "State", "Description"]
    )
    line = "".join(f"<th>{html.escape(name)}</th>" for name in head)
    body = []
    for scan, module, fault in _flat(truth):
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
    return Export(kind="html", name="export.html", content=page.encode(), table="scans", rows=scan_rows(truth))


def zipped(rng: random.Random) -> Export:
    """A packed folder with one table a car."""
    truth = draw(rng)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for car in truth.cars:
            lines: list[list[object]] = [["Vehicle", "Scan date", "Km", "Module", "DTC", "Status", "Description"]]
            for scan, module, fault in _flat(truth):
                if scan.car == car:
                    told = (fault.code, fault.status, fault.text) if fault else ("", "", "")
                    lines.append([car.number, scan.when.strftime("%Y-%m-%d %H:%M"), scan.km, module, *told])
            packed.writestr(f"export/{car.number}.csv", _csv(lines, ";"))
    return Export(kind="zip", name="all.zip", content=out.getvalue(), table="scans", rows=scan_rows(truth))


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
    for at, name in enumerate(("Stock no", "Date", "Odometer (mi)", "System", "Code", "Status", "Text")):
        sheet.write(2, at, name)
    rows = scan_rows(truth)
    for at, (scan, module, fault) in enumerate(_flat(truth), 3):
        miles = round(scan.km / 1.609344)
        rows[at - 3]["km"] = round(miles * 1.609344)
        sheet.write(at, 0, scan.car.number)
        sheet.write_datetime(at, 1, scan.when, date)
        sheet.write_number(at, 2, miles)
        for place, cell in enumerate((module, *((fault.code, fault.status, fault.text) if fault else ("", "", ""))), 3):
            sheet.write(at, place, cell)
    book.close()
    return Export(kind="workbook merged", name="export.xlsx", content=out.getvalue(), table="scans", rows=rows)


def workbook_serial(rng: random.Random) -> Export:
    """Days as serial numbers without a format, a formula in a column nobody needs, hidden rows."""
    truth = draw(rng)
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    sheet = book.add_worksheet("Sheet1")
    for at, name in enumerate(("Vehicle", "Scan date", "Odometer km", "Module", "Fault code", "Status", "Days ago")):
        sheet.write(0, at, name)
    base = datetime(1899, 12, 30)
    for at, (scan, module, fault) in enumerate(_flat(truth), 1):
        serial = (scan.when - base).total_seconds() / 86_400
        cells = (scan.car.number, serial, scan.km, module, fault.code if fault else "", fault.status if fault else "")
        for place, cell in enumerate(cells):
            sheet.write(at, place, cell)
        sheet.write_formula(at, 6, f"=TODAY()-B{at + 1}", None, 3)
        if at % 5 == 0:
            sheet.set_row(at, None, None, {"hidden": True})
    book.close()
    return Export(
        kind="workbook serial",
        name="serial.xlsx",
        content=out.getvalue(),
        table="scans",
        rows=scan_rows(truth, text=False),
    )


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
        for place, name in enumerate(head):
            sheet.write(0, place, name)
        part = Truth(cars=truth.cars, scans=scans, jobs=(), parts=())
        for at, (scan, module, fault) in enumerate(_flat(part), 1):
            cells = (
                scan.car.number,
                f"{scan.when:%d.%m.%Y}",
                f"{scan.when:%H:%M}",
                scan.km,
                module,
                fault.code if fault else "",
                fault.status if fault else "",
            )
            for place, cell in enumerate(cells):
                sheet.write(at, place, cell)
    book.close()
    return Export(
        kind="workbook sheets",
        name="two.xlsx",
        content=out.getvalue(),
        table="scans",
        rows=scan_rows(truth, text=False),
    )


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
    return Export(
        kind="json",
        name="scans.json",
        content=json.dumps({"exported": "2026-01-05", "scans": scans}).encode(),
        table="scans",
        rows=scan_rows(truth),
    )


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
            lines.append(f"[{place:02}] {_NAMES['plain'][module]}" if bracket else f"{_NAMES['plain'][module]}:")
            lines += [f"   {fault.code}   {fault.text}   {fault.status}" for fault in faults] or ["   No fault codes"]
        for at, line in enumerate(lines):
            canvas.drawString(50 + 10 * (len(line) - len(line.lstrip())), 800 - 16 * at, line.strip())
        canvas.showPage()
    canvas.save()
    return Export(kind="pdf", name="report.pdf", content=out.getvalue(), table="scans", rows=scan_rows(truth))


def own_dialect(rng: random.Random) -> Export:
    """Our own headings in a spreadsheet's own dialect."""
    truth = draw(rng)
    mark, encoding = rng.choice(((";", "utf-8-sig"), ("\t", "utf-16"), ("|", "cp1252"), (";", "cp1252")))
    lines: list[list[object]] = [["vehicle", "scanned_at", "odometer", "module", "code", "status", "text"]]
    for scan, module, fault in _flat(truth):
        told = (fault.code, fault.status, fault.text + " (größer)") if fault else ("", "", "")
        lines.append([scan.car.number, scan.when.strftime("%d.%m.%Y %H:%M"), f"{scan.km},0", module, *told])
    rows = [{**row, "text": f"{row['text']} (größer)" if row["text"] else None} for row in scan_rows(truth)]
    return Export(
        kind="own dialect", name="scans.csv", content=_csv(lines, mark).encode(encoding), table="scans", rows=rows
    )


def undecided_days(rng: random.Random) -> Export:
    """Days that may be months: nothing in the file can tell."""
    truth = draw(rng, first_days_only=True)
    own = rng.random() < 0.5
    head = ["vehicle", "scanned_at", "module", "code"] if own else ["Car", "Date", "Module", "DTC"]
    lines: list[list[object]] = [list(head)]
    for scan, module, fault in _flat(truth):
        lines.append([scan.car.number, scan.when.strftime("%d/%m/%Y %H:%M"), module, fault.code if fault else ""])
    return Export(
        kind="undecided days",
        name="days.csv",
        content=_csv(lines).encode(),
        table="scans",
        rows=scan_rows(truth, status=False, text=False, odometer=False),
        asks=True,
    )


def odd_dates(rng: random.Random) -> Export:
    """Month names, two-digit years, a twelve-hour clock, epoch seconds or milliseconds."""
    truth = draw(rng)
    forms: tuple[Callable[[datetime], str], ...] = (
        lambda when: when.strftime("%d %B %Y %H:%M"),
        lambda when: when.strftime("%d-%b-%y %H:%M"),
        lambda when: when.strftime("%m/%d/%Y %I:%M %p"),
        lambda when: when.strftime("%d.%m.%y %H:%M"),
        lambda when: str(int(when.replace(tzinfo=UTC).timestamp())),
        lambda when: str(int(when.replace(tzinfo=UTC).timestamp()) * 1000),
        lambda when: when.strftime("%a, %d %b %Y %I:%M:%S %p"),
        lambda when: f"{when.day}. {_MONTHS[when.month - 1]} {when.year} {when:%H:%M}",
    )
    form = rng.choice(forms)
    lines: list[list[object]] = [["Vehicle", "Timestamp", "Odometer km", "ECU", "DTC", "Status"]]
    for scan, module, fault in _flat(truth):
        told = (fault.code, fault.status) if fault else ("", "")
        lines.append([scan.car.number, form(scan.when), scan.km, module, *told])
    return Export(
        kind="odd dates",
        name="dates.csv",
        content=_csv(lines).encode(),
        table="scans",
        rows=scan_rows(truth, text=False),
    )


_MONTHS = (
    "Januar",
    "Februar",
    "März",
    "April",
    "Mai",
    "Juni",
    "Juli",
    "August",
    "September",
    "Oktober",
    "November",
    "Dezember",
)


def odd_numbers(rng: random.Random) -> Export:
    """Thousands and units in the odometer's cells, or miles in the heading."""
    truth = draw(rng)
    grouped = lambda km, mark: f"{km:,}".replace(",", mark)  # noqa: E731
    forms: tuple[tuple[str, Callable[[int], str], bool], ...] = (
        ("Laufleistung", lambda km: f"{grouped(km, '.')} km", False),
        ("Odometer", lambda km: f"{grouped(km, ',')} km", False),
        ("Kilométrage", lambda km: f"{grouped(km, ' ')} km", False),
        ("Mileage (miles)", lambda km: str(round(km / 1.609344)), True),
        ("Odometer", lambda km: f"{round(km / 1.609344):,} mi", True),
        ("km-Stand", lambda km: grouped(km, "."), False),
    )
    name, form, miles = rng.choice(forms)
    lines: list[list[object]] = [["Vehicle", "Date", name, "Module", "Code", "Status"]]
    rows = scan_rows(truth, text=False)
    for at, (scan, module, fault) in enumerate(_flat(truth)):
        told = (fault.code, fault.status) if fault else ("", "")
        lines.append([scan.car.number, scan.when.strftime("%Y-%m-%d %H:%M"), form(scan.km), module, *told])
        if miles:
            rows[at]["km"] = round(round(scan.km / 1.609344) * 1.609344)
    return Export(kind="odd numbers", name="numbers.csv", content=_csv(lines, ";").encode(), table="scans", rows=rows)


def status_words(rng: random.Random) -> Export:
    """Status words of other languages."""
    truth = draw(rng)
    language = rng.choice(("german", "french", "present", "sporadic"))
    words = _STATUS[language]
    head = {
        "german": ["Fahrzeug", "Datum", "Uhrzeit", "km", "Steuergerät", "Fehlercode", "Status", "Beschreibung"],
        "sporadic": ["Wagen", "Tag", "Zeit", "Kilometer", "Modul", "Fehler", "Zustand", "Fehlertext"],
        "french": ["Véhicule", "Date", "Heure", "Kilométrage", "Calculateur", "Code défaut", "Statut", "Libellé"],
        "present": ["Vehicle", "Date", "Time", "Odometer km", "Module", "Trouble code", "Fault status", "Meaning"],
    }[language]
    lines: list[list[object]] = [list(head)]
    for scan, module, fault in _flat(truth):
        told = (fault.code, words[fault.status], fault.text) if fault else ("", "", "")
        lines.append([scan.car.number, f"{scan.when:%d.%m.%Y}", f"{scan.when:%H:%M}", scan.km, module, *told])
    return Export(
        kind="status words",
        name="status.csv",
        content=_csv(lines, ";").encode("cp1252"),
        table="scans",
        rows=scan_rows(truth),
    )


def decoys(rng: random.Random) -> Export:
    """Number columns that are no odometer: a maker's number, a year, a counter; with or without an odometer."""
    truth = draw(rng)
    has = rng.random() < 0.5
    lines: list[list[object]] = [
        ["Year", "Vehicle", "Date", "Module", "Maker no.", "Code", "State no.", *(["Odometer km"] if has else [])]
    ]
    for scan, module, fault in _flat(truth):
        lines.append(
            [
                scan.car.year,
                scan.car.number,
                scan.when.strftime("%Y-%m-%d %H:%M"),
                module,
                16_000 + rng.randrange(900) if fault else "",
                fault.code if fault else "",
                8 if fault else "",
                *([scan.km] if has else []),
            ]
        )
    return Export(
        kind="decoys",
        name="decoys.csv",
        content=_csv(lines).encode(),
        table="scans",
        rows=scan_rows(truth, status=False, text=False, odometer=has),
    )


def stock(rng: random.Random) -> Export:
    """A stock list with German headings."""
    truth = draw(rng)
    german = rng.random() < 0.5
    head = (
        ["Bestandsnummer", "Hersteller", "Modell", "Baujahr", "Verkaufspreis"]
        if german
        else ["Stock number", "Manufacturer", "Model line", "Year", "Price (EUR)"]
    )
    lines: list[list[object]] = [list(head)]
    for car in truth.cars:
        price = (
            f"{car.price:,.2f}".replace(",", " ").replace(".", ",").replace(" ", ".") if german else f"{car.price:.2f}"
        )
        lines.append([car.number, car.make, car.model, car.year, price])
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
    return Export(
        kind="stock", name="bestand.csv", content=_csv(lines, ";").encode("utf-8-sig"), table="stock", rows=rows
    )


def repairs(rng: random.Random) -> Export:
    """A repair book; the action stands in it in plain words."""
    truth = draw(rng)
    german = rng.random() < 0.5
    head = (
        ["Fahrzeug", "Auftrag", "Datum", "km-Stand", "Tätigkeit", "Teil", "Teilepreis", "Minuten"]
        if german
        else ["Car", "Job no.", "Date done", "Odometer km", "Action", "Part", "Part cost", "Labour minutes"]
    )
    word = rng.choice(("ersetzt", "erneuert")) if german else rng.choice(("replaced", "Replace"))
    lines: list[list[object]] = [list(head)]
    for job in truth.jobs:
        cost = f"{job.cost:.2f}".replace(".", ",") if german else f"{job.cost:.2f}"
        lines.append([job.car.number, job.job, f"{job.day:%d.%m.%Y}", job.km, word, job.part, cost, job.minutes])
    rows: list[Row] = [
        {
            "vehicle": job.car.number,
            "job": job.job,
            "done_at": f"{job.day:%Y-%m-%d}",
            "km": job.km,
            "action": "replace",
            "part": job.part,
            "part_cost": job.cost,
            "labour_minutes": job.minutes,
        }
        for job in truth.jobs
    ]
    return Export(
        kind="repairs", name="jobs.csv", content=_csv(lines, ";").encode("utf-8-sig"), table="repairs", rows=rows
    )


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
        for place, cell in enumerate(row):
            sheet.write(at, place, cell)
    book.close()
    rows: list[Row] = [
        {"part": part, "part_cost": cost, "labour_minutes": minutes} for part, cost, minutes in truth.parts
    ]
    return Export(kind="parts", name="prices.xlsx", content=out.getvalue(), table="parts", rows=rows)


SHAPES: tuple[Callable[[random.Random], Export], ...] = (
    wide_faults,
    codes_in_cell,
    one_column,
    printed_blocks,
    fixed_width,
    html_table,
    zipped,
    workbook_merged,
    workbook_serial,
    workbook_sheets,
    json_nested,
    pdf,
    own_dialect,
    undecided_days,
    odd_dates,
    odd_numbers,
    status_words,
    decoys,
    stock,
    repairs,
    parts,
)


def draw_exports(seed: int, count: int = 40) -> list[Export]:
    """Return ``count`` exports, the kinds in turn; odd dates and numbers more often than the tables beside scans."""
    shapes = [*SHAPES, *(shape for shape in SHAPES if shape not in (stock, parts))]
    return [shape(random.Random(f"{seed} {place} {shape.__name__}")) for place, shape in enumerate(shapes[:count])]
