"""Files that programs could write on their worst day, drawn by the number: every table, every kind of file."""

from __future__ import annotations

import csv
import io
import json
import random

import polars as pl

from pipelines.reading.layouts import LAYOUTS, Column, Layout

# One mapping with a column a module and two codes in a cell, so that one row of a file makes several.
MAPPING = """\
serves = ["*.tsv"]
format = "table"
delimiter = "\\t"
[columns]
vehicle = "car"
scanned_at = "when"
[wide]
motor = "ECM"
brakes = "ABS"
[codes]
separator = "/"
no_codes = ["none"]
silent = ["no answer"]
blank = "no codes"
"""
GOOD: dict[str, tuple[str, ...]] = {
    "text": ("A1", "A2", "engine", "a; b", "Bremsflüssigkeit"),
    "vin": ("ZZZCV1ALD00000001", "UNKNOWN", "0" * 17),
    "number": ("1", "12.5", "99999"),
    "integer": ("1", "7"),
    "boolean": ("true", "no"),
    "datetime": ("2026-03-01T09:00", "2026-03-01T09:00:30+02:00", "2026-03-02 09:00Z"),
    "date": ("2026-03-01", "2025-12-31"),
    "day or time": ("2026-03-01", "2026-03-01T12:00-05:00"),
    "hex byte": ("08", "1F"),
    "status": ("2F", "pending", "09"),
    "asked": ("all", "stored", "pending;stored"),
}
NAMED: dict[str, tuple[str, ...]] = {
    "vehicle": ("A1", "A2", "A3"),
    "module": ("ECM", "ABS", "Airbag"),
    "code": (
        "P0301",
        "P0301 - Misfire cylinder 1",
        "C0045 / 08",
        "0x4045",
        "05123",
        "5123",
        "B1317-11",
        "SPN 110 FMI 3",
    ),
    "part": ("ignition coil", "battery"),
    "job": ("J1", "J2"),
}
BAD = (
    *("", " ", "-", "?", "NaN", "inf", "-inf", "1e308", "1e999", "-1", "0x", "1,5", "9" * 40, "٣", "½", "+", "1_000"),
    *(
        "2026-02-30",
        "2026-13-01",
        "1989-12-31",
        "0001-01-01",
        "9999-12-31",
        "2199-12-31T23:59",
        "1990-01-01T00:00+14:00",
    ),
    *(
        "2026-03-01T23:59:60",
        "2026-03-01T24:00",
        "2026-03-01T09:60",
        "2026-03-29T02:30",
        "2026-10-25T02:30",
        "2026-W10",
    ),
    *("2026-03-01T09:00+19:59", "2026-03-01T09:00:00.999999999", "2026-03-01T09:00Zulu", "09:00", "20260301"),
    *(
        "DEAD",
        "FACADE",
        "2024",
        "PO301",
        "P0301,P0302",
        "P0000",
        "incomplete",
        "P0301\u2013extra wörter",
        "2E-03",
        "00000",
    ),
    *(
        "'; drop table raw.scans; --",
        "=1+1",
        "<script>",
        "\u202e",
        "\ufeff",
        "\x1f",
        "\x85",
        "\u2028",
        "a" * 5000,
        "\x00",
    ),
    *("true", "FF", "GG", "100", "active", "all;x", ";", "swap", "erase", "km", "mi"),
)


def hostile_file(number: int) -> tuple[str, str, bytes]:
    """Draw one file; the same number draws the same one.

    Returns:
        The table it is meant for, its name and its bytes.
    """
    dice = random.Random(number)
    layout = LAYOUTS[dice.choice(("scans", "scans", "scans", "repairs", "stock", "parts", "background"))]
    kind = dice.choice(("csv", "csv", "csv", "jsonl", "parquet", *(("tsv", "hex") if layout.name == "scans" else ())))
    name = f"{number}.{kind}"
    if kind == "tsv":
        return layout.name, name, _wide(dice)
    if kind == "hex":
        return layout.name, name, _answers(dice)
    rows = [{column.name: _cell(dice, column) for column in layout.columns} for _ in range(dice.randint(1, 8))]
    if kind == "csv":
        return layout.name, name, _text(dice, rows)
    if kind == "jsonl":
        return layout.name, name, "\n".join(json.dumps(row) for row in rows).encode()
    return layout.name, name, _parquet(layout, rows)


def _cell(dice: random.Random, column: Column) -> str:
    if dice.random() < 0.03:
        return dice.choice(BAD)
    if not column.required and dice.random() < 0.4:
        return ""
    return dice.choice(column.values or NAMED.get(column.name) or GOOD[column.kind])


def _text(dice: random.Random, rows: list[dict[str, str]]) -> bytes:
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator=dice.choice(("\n", "\r\n")))
    writer.writeheader()
    writer.writerows({name: cell.replace("\x00", "") for name, cell in row.items()} for row in rows)
    text = out.getvalue()
    for _ in range(dice.choice((0, 0, 1, 2))):
        at = dice.randrange(text.index("\n"), len(text) + 1)
        text = text[:at] + dice.choice(('"', ",", "\n", '"\n', ",,,")) + text[at:]
    return text.encode()


def _parquet(layout: Layout, rows: list[dict[str, str]]) -> bytes:
    out = io.BytesIO()
    pl.DataFrame(rows, schema=dict.fromkeys((column.name for column in layout.columns), pl.String)).write_parquet(out)
    return out.getvalue()


def _wide(dice: random.Random) -> bytes:
    cells = ("P0301", "P0301/P0302", "P0301/P0301", "none", "no answer", "", "PO301", "P0301 - text", *BAD[:4])
    times = ("2026-03-01T09:00", "2026-03-01 10:00", "23/11/26")
    lines = ["car\twhen\tmotor\tbrakes"]
    lines += [
        "\t".join((dice.choice(("A1", "A2", "")), dice.choice(times), dice.choice(cells), dice.choice(cells)))
        for _ in range(dice.randint(1, 6))
    ]
    return "\n".join(lines).encode()


def _answers(dice: random.Random) -> bytes:
    lines = [
        f"vehicle: {dice.choice(('A1', 'A2'))}",
        f"scanned_at: {dice.choice((*GOOD['datetime'], '2026-03-01T09:00:60'))}",
    ]
    lines += ["link: can"] if dice.random() < 0.7 else []
    said = (
        *(
            "7E8 43 00",
            "7E8 43 01 03 01",
            "7E8 47 01 03 01",
            "7E8 4A 00",
            "7E0 19 02 04",
            "7E8 59 02 FF",
            "7E9 59 02 FF AA AA AA AA",
        ),
        *(
            "7E9 59 0A FF 03 01 00 09",
            "7E9 58 01 03 01 60",
            "DM1 SA 0: 04 FF 6E 00 03 05",
            "ECM: silent",
            "7E8 7F 19 78",
            "7E8 4",
            "?",
        ),
        *(
            "can0 7E8#024300",
            "can1 7E8#034701FFFF",
            "can0 18ECFF00#20130003FFCAFE00",
            "7E8 41 31 01 23",
            "7E8 59 04 03 01 00 08 01",
        ),
    )
    lines += [dice.choice(said) for _ in range(dice.randint(1, 8))]
    return "\n".join(lines).encode()
