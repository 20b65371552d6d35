"""Exports that tell a thing in another place than most: beside a code, above it, in brackets, in a row of its own."""

from pathlib import Path

from tests.unit.reading.test_odd_exports import read, written

REMARKS = """| Car | Read on | Module | Codes | Remark |
|:--|:--|:--|:--|:--|
| W-304 | 24-Feb-26 08:07 | Engine | `P0420` | - |
| W-304 | 24-Feb-26 08:07 | ABS |  | {clean} |
| W-304 | 24-Feb-26 08:07 | Airbag |  | did not answer |
| W-340 | 16-Mar-26 14:43 | Engine | `P0420` / `P0171` | - |
| W-340 | 16-Mar-26 14:43 | Transmission | `P0715` | - |
| W-340 | 16-Mar-26 14:43 | ABS |  | {clean} |
"""


def test_a_remark_that_a_module_was_silent_is_read_beside_remarks_that_it_was_clean(tmp_path: Path) -> None:
    for clean in ("clean", "none"):
        rows = read(written(tmp_path, "notes.md", REMARKS.format(clean=clean))).rows
        states = {(row["module"], row["module_state"]) for row in rows.iter_rows(named=True) if not row["code"]}
        assert states == {("ABS", None), ("Airbag", "silent")}, clean


def test_the_bare_number_of_an_order_is_the_job_and_the_plate_below_it_the_car(tmp_path: Path) -> None:
    order = (
        '<orden numero="J{0}" fecha="{1}/01/2026"><coche matricula="TR {0} FW" km="15{0}"/><trabajos>'
        "<trabajo><accion>reparado</accion><pieza>Cerradura</pieza><minutos>45</minutos></trabajo>"
        "<trabajo><accion>limpiado</accion><pieza>Termostato</pieza><minutos>15</minutos></trabajo></trabajos></orden>"
    )
    orders = "".join(order.format(number, day) for number, day in ((5104, 14), (5128, 15), (5134, 26)))
    rows = read(written(tmp_path, "orders.xml", f"<taller>{orders}</taller>")).rows
    assert rows["vehicle"].to_list() == [f"TR {number} FW" for number in (5104, 5104, 5128, 5128, 5134, 5134)]
    assert rows["job"].to_list() == ["J5104", "J5104", "J5128", "J5128", "J5134", "J5134"]


def test_groups_of_a_price_book_are_no_parts_where_a_note_stands_below_the_last_part(tmp_path: Path) -> None:
    book = (
        "Part;Price;Supplier\nElectrics;;\nBattery;78.50;Brinkhof\nIgnition coil;34.90;Ulma\n"
        "Engine;;\nThermostat;22.00;Sela\nPrices without tax;;\n"
    )
    rows = read(written(tmp_path, "book.csv", book)).rows
    assert rows["part"].to_list() == ["Battery", "Ignition coil", "Thermostat"]


def test_modules_in_brackets_count_their_codes_and_a_line_of_a_page_is_none(tmp_path: Path) -> None:
    scan = (
        "Fahrzeug   : W-{0}\r\nPrüfung am : {1}.05.26 um 11:59 Uhr\r\n\r\n[Motor]  kein Fehler gespeichert\r\n"
        "[Getriebe]  antwortet nicht\r\n[ABS]  kein Fehler gespeichert\r\n[Karosserie]  1 Fehler\r\n"
        "    B1317  Versorgungsspannung zu hoch  <aktuell>\r\n\f\r\nPROTOKOLL     Seite 2\r\n=============\r\n\r\n"
        "[Servolenkung]  1 Fehler\r\n    U0415  Daten von ABS  <historisch>\r\n\r\n----------\r\n"
    )
    text = "".join(scan.format(car, day) for car, day in ((334, 18), (316, 21), (337, 29)))
    found = read(written(tmp_path, "protocol.txt", text.encode("cp1252")))
    assert found.rejects.is_empty()
    told = found.rows.select("module", "module_state", "code").rows()[:5]
    assert told == [
        ("ECM", None, None), ("TCM", "silent", None), ("ABS", None, None), ("BCM", None, "B1317"),
        ("EPS", None, "U0415"),
    ]  # fmt: skip


def test_a_line_across_the_page_is_no_module_above_codes(tmp_path: Path) -> None:
    scan = (
        "Car: W-{0}\nRead: {1}.05.2026 11:59\n\nEngine\n  P0301  Misfire\nTransmission\n  P0715  Input speed\n"
        "==========\n  U0100  Lost communication\n\n"
    )
    found = read(written(tmp_path, "bench.txt", "".join(scan.format(car, day) for car, day in ((3, 18), (4, 21)))))
    assert {*found.rows["module"]} == {"Engine", "Transmission"}


def test_a_sum_below_the_last_page_moves_none_of_its_columns(tmp_path: Path) -> None:
    head = "Stock    Date                   Km  Module      Code    Text              State"
    row = "W-{0}    {1}/04/2026 17:08   118928  Engine      P0715   Input speed       active"
    page = "\n".join([head, "-" * 80, *(row.format(car, car - 300) for car in (313, 319, 325, 327))])
    text = f"{page}\n\n{page}\n{'-' * 80}\nTotal errors: 430   Vehicle: 4\n"
    found = read(written(tmp_path, "faults.txt", text))
    assert found.rejects.is_empty()
    assert found.rows.height == 8


def test_a_usual_word_for_a_counter_or_for_the_time_of_a_check_names_its_column(tmp_path: Path) -> None:
    scans = (
        "Nr rej.;Data odczytu;Przebieg [km];Sterownik;Kod błędu;Status;Licznik\n"
        "TR976FW;30.01.2026 14:45;152302;Silnik;P0301;aktywny;16\n"
        "TH574GY;16.03.2026 14:07;118582;Silnik;P0420;aktywny;6\n"
    )
    rows = read(written(tmp_path, "scans.csv", scans)).rows
    assert rows.select("odometer", "occurrences").rows() == [("152302", "16"), ("118582", "6")]
    clocked = (
        scans.replace("Przebieg [km]", "Uwagi").replace("aktywny;16", "aktywny;152302").replace(";6\n", ";118582\n")
    )
    rows = read(written(tmp_path, "clocked.csv", clocked)).rows
    assert rows["odometer"].to_list() == ["152302", "118582"]
    book = "Ricambio;Prezzo;Manodopera (min);Prova (min)\nBatteria;78,50;25;10\nTermostato;22,00;75;20\n"
    assert read(written(tmp_path, "book.csv", book)).rows["check_minutes"].to_list() == ["10", "20"]


def test_a_column_of_cars_before_columns_of_modules_is_none_of_them(tmp_path: Path) -> None:
    scans = (
        "N.º stock;Matrícula;Fecha y hora;Kilómetros;Motor;Cambio;ABS\n"
        "W-349;KR 837 AC;14/03/2026 17:14;181624;P0171;P0741;sin fallos\n"
        "W-310;KV 290 CH;21/03/2026 11:04;69190;P0420;sin fallos;C0031\n"
    )
    rows = read(written(tmp_path, "crossed.csv", scans)).rows
    assert rows["vehicle"].unique().sort().to_list() == ["W-310", "W-349"]
    assert {*rows["module"]} == {"ECM", "TCM", "ABS"}


def test_a_german_heading_of_what_parts_cost_names_its_column(tmp_path: Path) -> None:
    jobs = (
        "Auftrag;Datum;Fahrzeug;Arbeit;Teil;Teilekosten €;Arbeitszeit (Std.)\n"
        "J1;14.03.2026;W-331;ersetzt;Batterie;78,50;0,5\nJ2;16.03.2026;W-307;ersetzt;Thermostat;22,00;1,25\n"
    )
    assert read(written(tmp_path, "jobs.csv", jobs)).rows["part_cost"].to_list() == ["78.5", "22"]


def test_rows_with_a_day_behind_a_word_are_rows_of_a_printed_table(tmp_path: Path) -> None:
    title = "Stock at 30 November 2026\n\n"
    head = "N. stock    Targa        Marca      Modello    Anno    Alimentazione    Acquisto    Prezzo\n\n"
    row = "W-{0}       NY {0} FB    Veltora    Pell       2018    diesel           {1}/01/26    11.{0}\n\n"
    rows = "".join(row.format(301 + number, 14 + number) for number in range(8))
    found = read(written(tmp_path, "stock.txt", title + head + rows + "Totale" + " " * 55 + "8 auto      90.320\n"))
    assert found.rejects.is_empty()
    assert found.rows["bought_on"].to_list() == [f"2026-01-{day}" for day in range(14, 22)]


def test_blanks_between_thousands_leave_the_decimal_mark_to_the_prices(tmp_path: Path) -> None:
    jobs = (
        "Ordre;Date;Véhicule;Km;Opération;Pièce;Prix pièce\nJ1;14/03/2026;W-1;121 464;remplacé;Batterie;64,00 €\n"
        "J2;16/03/2026;W-2;119 213;mise à jour logicielle;;\nJ3;17/03/2026;W-3;119 300;remplacé;Thermostat;22,50 €\n"
    )
    rows = read(written(tmp_path, "jobs.csv", jobs)).rows
    assert rows.select("odometer", "part_cost").rows() == [("121464", "64"), ("119213", None), ("119300", "22.5")]
    assert rows["action"].to_list() == ["replace", "software", "replace"]


def test_a_line_of_a_log_that_counts_no_faults_of_a_unit_calls_it_clean(tmp_path: Path) -> None:
    session = (
        "2026-02-{0} 10:08:42 INFO  session open car=ZNK2PTZ620E345{0}8 km=1525{0}\n"
        '2026-02-{0} 10:08:42 FAULT unit=ABS code=C0051 state=current text="Steering angle implausible"\n'
        "2026-02-{0} 10:08:42 INFO  unit=SRS faults=0\n2026-02-{0} 10:08:42 INFO  session closed\n"
    )
    log = "".join(session.format(day) for day in (18, 21, 25))
    rows = read(written(tmp_path, "bench.log", log)).rows
    assert rows.select("module", "code", "module_state").rows() == [("ABS", "C0051", None), ("SRS", None, None)] * 3


def test_a_dash_in_a_column_of_days_leaves_the_day_blank(tmp_path: Path) -> None:
    stock = "Lagernummer;Hersteller;Modell;Einkauf am;Verkauft am;Preis\n" + "".join(
        f"W-3{number};Veltora;Pell;{number}.01.2026;{sold};7000\n"
        for number, sold in ((14, "-"), (15, "28.04.2026"), (16, "-"), (17, "-"), (18, "-"))
    )
    rows = read(written(tmp_path, "stock.csv", stock)).rows
    assert rows["sold_on"].to_list() == [None, "2026-04-28", None, None, None]


def test_a_model_below_the_heading_of_the_car_names_its_column(tmp_path: Path) -> None:
    stock = (
        "Auto;;;Inkoop;Verkoop;\nVoorraadnr;Merk;Model;Datum;Vraagprijs;Datum\n"
        "W-310;Ombrio;Fenn;11-03-2026;7590;\nW-313;Veltora;Arda;24-07-2026;7900;28-08-2026\n"
    )
    rows = read(written(tmp_path, "stock.csv", stock)).rows
    assert rows.select("vehicle", "model", "bought_on", "sold_on").rows() == [
        ("W-310", "Fenn", "2026-03-11", None), ("W-313", "Arda", "2026-07-24", "2026-08-28"),
    ]  # fmt: skip
