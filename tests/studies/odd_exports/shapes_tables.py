"""Shapes of delimited text, and the tables beside scans."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import UTC, datetime

from tests.studies.odd_exports.export import NAMES, STATUS, Export, Row, delimited, flat, made, repair_rows, scan_rows
from tests.studies.odd_exports.truth import draw


def wide_faults(rng: random.Random) -> Export:
    """Semicolons, one line a module, three columns for faults."""
    truth = draw(rng)
    head = rng.choice(
        (["Fehler 1", "Fehler 2", "Fehler 3"], ["Fault 1", "Fault 2", "Fault 3"], ["DTC1", "DTC2", "DTC3"])
    )
    german = head[0].startswith("Fehler")
    names = NAMES["german" if german else "plain"]
    lines: list[list[object]] = [
        ["Fahrzeug", "Datum", "Kilometerstand", "Steuergerät", *head]
        if german
        else ["Stock no.", "Date", "Mileage km", "System", *head]
    ]
    for scan in truth.scans:
        for module, faults in scan.modules:
            codes = [fault.code for fault in faults] + [""] * (3 - len(faults))
            lines.append([scan.car.number, scan.when.strftime("%d.%m.%Y %H:%M"), scan.km, names[module], *codes])
    return made(
        "wide faults",
        "liste.csv",
        delimited(lines, ";").encode("utf-8-sig"),
        scan_rows(truth, status=False, text=False),
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
    return made("codes in a cell", "codes.csv", delimited(lines), scan_rows(truth, status=False, text=False))


def one_column(rng: random.Random) -> Export:
    """Module, code, text and status in one column."""
    truth = draw(rng)
    names, words = NAMES[rng.choice(("plain", "short"))], STATUS[rng.choice(("english", "present"))]
    mark = rng.choice((" - ", " | ", ": "))
    lines: list[list[object]] = [["Car", "When", "Odometer (km)", "Fault entry"]]
    for scan, module, fault in flat(truth):
        if fault is not None:
            cell = mark.join((names[module], fault.code, fault.text, words[fault.status]))
            lines.append([scan.car.number, scan.when.strftime("%d/%m/%Y %H:%M"), scan.km, cell])
    return made("one column", "entries.csv", delimited(lines), scan_rows(truth, clean=False))


def own_dialect(rng: random.Random) -> Export:
    """Our own headings in a spreadsheet's own dialect."""
    truth = draw(rng)
    mark, encoding = rng.choice(((";", "utf-8-sig"), ("\t", "utf-16"), ("|", "cp1252"), (";", "cp1252")))
    lines: list[list[object]] = [["vehicle", "scanned_at", "odometer", "module", "code", "status", "text"]]
    for scan, module, fault in flat(truth):
        told = (fault.code, fault.status, fault.text + " (größer)") if fault else ("", "", "")
        lines.append([scan.car.number, scan.when.strftime("%d.%m.%Y %H:%M"), f"{scan.km},0", module, *told])
    rows = [{**row, "text": f"{row['text']} (größer)" if row["text"] else None} for row in scan_rows(truth)]
    return made("own dialect", "scans.csv", delimited(lines, mark).encode(encoding), rows)


def undecided_days(rng: random.Random) -> Export:
    """Days that may be months: nothing in the file can tell."""
    truth = draw(rng, first_days_only=True)
    own = rng.random() < 0.5
    head = ["vehicle", "scanned_at", "module", "code"] if own else ["Car", "Date", "Module", "DTC"]
    lines: list[list[object]] = [list(head)]
    for scan, module, fault in flat(truth):
        lines.append([scan.car.number, scan.when.strftime("%d/%m/%Y %H:%M"), module, fault.code if fault else ""])
    return Export(
        kind="undecided days",
        name="days.csv",
        content=delimited(lines).encode(),
        table="scans",
        rows=scan_rows(truth, status=False, text=False, odometer=False),
        asks=True,
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
    for scan, module, fault in flat(truth):
        told = (fault.code, fault.status) if fault else ("", "")
        lines.append([scan.car.number, form(scan.when), scan.km, module, *told])
    return made("odd dates", "dates.csv", delimited(lines), scan_rows(truth, text=False))


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
    for at, (scan, module, fault) in enumerate(flat(truth)):
        told = (fault.code, fault.status) if fault else ("", "")
        lines.append([scan.car.number, scan.when.strftime("%Y-%m-%d %H:%M"), form(scan.km), module, *told])
        if miles:
            rows[at]["km"] = round(round(scan.km / 1.609344) * 1.609344)
    return made("odd numbers", "numbers.csv", delimited(lines, ";"), rows)


def status_words(rng: random.Random) -> Export:
    """Status words of other languages."""
    truth = draw(rng)
    language = rng.choice(("german", "french", "present", "sporadic"))
    words = STATUS[language]
    head = {
        "german": ["Fahrzeug", "Datum", "Uhrzeit", "km", "Steuergerät", "Fehlercode", "Status", "Beschreibung"],
        "sporadic": ["Wagen", "Tag", "Zeit", "Kilometer", "Modul", "Fehler", "Zustand", "Fehlertext"],
        "french": ["Véhicule", "Date", "Heure", "Kilométrage", "Calculateur", "Code défaut", "Statut", "Libellé"],
        "present": ["Vehicle", "Date", "Time", "Odometer km", "Module", "Trouble code", "Fault status", "Meaning"],
    }[language]
    lines: list[list[object]] = [list(head)]
    for scan, module, fault in flat(truth):
        told = (fault.code, words[fault.status], fault.text) if fault else ("", "", "")
        lines.append([scan.car.number, f"{scan.when:%d.%m.%Y}", f"{scan.when:%H:%M}", scan.km, module, *told])
    return made("status words", "status.csv", delimited(lines, ";").encode("cp1252"), scan_rows(truth))


def decoys(rng: random.Random) -> Export:
    """Number columns that are no odometer: a maker's number, a year, a counter; with or without an odometer."""
    truth = draw(rng)
    has = rng.random() < 0.5
    lines: list[list[object]] = [
        ["Year", "Vehicle", "Date", "Module", "Maker no.", "Code", "State no.", *(["Odometer km"] if has else [])]
    ]
    for scan, module, fault in flat(truth):
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
    return made("decoys", "decoys.csv", delimited(lines), scan_rows(truth, status=False, text=False, odometer=has))


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
    return made("stock", "bestand.csv", delimited(lines, ";").encode("utf-8-sig"), rows, "stock")


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
    return made("repairs", "jobs.csv", delimited(lines, ";").encode("utf-8-sig"), repair_rows(truth), "repairs")
