"""``knockon map``: a draft from a sample, its reasons, and the rows it would read; ``check`` tries a mapping."""

from pathlib import Path

import pytest

from pipelines.commands.cli import main
from pipelines.ingest.mapping_draft import draft_file
from pipelines.reading.drafting.date_guesses import date_guess
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.settings import Settings

EXPORTS = Path(__file__).parents[3] / "fixtures" / "exports"
SETTINGS = Settings(time_zone="Africa/Johannesburg")


def drafted(name):
    return draft_file(EXPORTS / name, None, SETTINGS)


@pytest.mark.parametrize(
    ("name", "lines"),
    [
        (
            "semicolons.csv",
            [
                'encoding = "cp1252"',
                'delimiter = ";"',
                "header_row = 3",
                'decimal = ","',
                'date_formats = ["%d.%m.%Y %H:%M"]',
                'scanned_at = ["Datum", "Uhrzeit"]',
                'module = "Steuergerät"',
                'code = "Fehler"',
                'silent = ["keine Antwort"]',
                'no_codes = ["kein Fehler"]',
            ],
        ),
        ("wide.tsv", ['delimiter = "\\t"', 'Engine = "Engine"', '"Gearbox unit" = "Gearbox"', 'separator = "|"']),
        (
            "nested.json",
            ['code = "visits[].units[].faults[].id"', 'false = "silent"', 'vehicle = "visits[].car.number"'],
        ),
        ("workbook.xlsx", ['sheet = "*"', "header_row = 4", 'failure_type = "Type"', 'no = "silent"']),
        ("sixteen.lst", ['encoding = "utf-16"', 'code = "Trouble"', 'date_formats = ["%Y%m%dT%H%M"]']),
        ("slip.txt", [r"module = '^\s*\[(?<module>[^\]]+)\]\s*$'", 'date_formats = ["%d %b %Y at %H:%M"]']),
    ],
)
def test_a_draft_finds_what_there_is_and_reads_every_row(name, lines):
    shown = drafted(name)
    for line in lines:
        assert line in shown
    # Rows with states that only the dealer knows wait for what they mean.
    if name == "slip.txt":
        asked = [line.partition(": ")[0] for line in shown if line.startswith("- values.status.")]
        assert asked == ["- values.status.C", "- values.status.P", "- values.status.H"]
        return
    count = {"wide.tsv": 11, "sixteen.lst": 5}.get(name, 10)
    assert any(line.startswith(f"Read by this draft: {min(count, 10)} of ") for line in shown)


def test_each_guess_has_a_reason_and_the_first_rows_are_shown():
    shown = drafted("semicolons.csv")
    reasons = shown[shown.index("Reasons:") :]
    assert "- code: the heading 'Fehler'" in [line.partition(" and ")[0] for line in reasons]
    assert "- header_row: the row in which most headings are known" in reasons
    row = "4 | S-104 | 2026-11-16 08:40:00 | 120500.5 | km | Engine |  | P0301 | confirmed | Cylinder 1 misfires"
    assert row in shown


def test_what_could_not_be_guessed_is_said():
    shown = drafted("ledger.prn")
    assert any(line.startswith("- columns.odometer: ") for line in shown)
    # Cells between bars: that one of them holds no fault is said of its module, not of the whole car.
    assert any(line == "7 | S-104 | 2026-11-16 08:40:00 | BCM |  |  | " for line in shown)
    assert any(line == "8 | S-104 | 2026-11-16 08:40:00 | SRS | silent |  | " for line in shown)
    assert not any("whole car clean" in line for line in shown)


def test_days_and_months_that_could_be_either_are_named():
    either = date_guess(["03/04/2026 10:00", "05/06/2026 11:00"])
    assert (either.form, either.other) == ("%d/%m/%Y %H:%M", "%m/%d/%Y %H:%M")
    sure = date_guess(["03/04/2026 10:00", "23/04/2026 10:00"])
    assert (sure.form, sure.other, sure.example) == ("%d/%m/%Y %H:%M", None, "23/04/2026 10:00")
    assert date_guess(["soon"]).form is None


def test_the_command_writes_the_draft_and_check_reads_by_it(tmp_path, capsys):
    out = tmp_path / "mappings" / "lift.toml"
    assert main(["map", str(EXPORTS / "semicolons.csv"), "--out", str(out)]) == 0
    assert f"wrote {out}" in capsys.readouterr().out
    assert load_mapping(out).delimiter == ";"
    assert main(["check", str(EXPORTS / "semicolons.csv"), "--mapping", str(out)]) == 0
    assert "scans, 10 rows: 10 taken, 0 refused" in capsys.readouterr().out
    assert main(["map", str(EXPORTS / "semicolons.csv"), "--out", str(out)]) == 1
    assert "is there already; name another file with --out. Nothing was written." in capsys.readouterr().err


def test_check_uses_the_mappings_of_the_workspace(tmp_path, capsys):
    scans = tmp_path / "inbox" / "scans"
    scans.mkdir(parents=True)
    (scans / "slip.txt").write_bytes((EXPORTS / "slip.txt").read_bytes())
    assert main(["check", str(scans / "slip.txt")]) == 1
    assert "knockon map" in capsys.readouterr().out
    (tmp_path / "mappings").mkdir()
    mapping = EXPORTS.parent / "mappings" / "slip.toml"
    (tmp_path / "mappings" / "slip.toml").write_bytes(mapping.read_bytes())
    assert main(["check", str(scans / "slip.txt")]) == 0
    shown = capsys.readouterr().out
    assert "10 rows: 10 taken, 0 refused" in shown
    assert "note: read by mappings/slip.toml" in shown


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "the file is empty"),
        (b"PK\x03\x04", "it cannot be read as a workbook"),
        (b"\0\1\2\3", "the content is binary"),
    ],
)
def test_what_is_no_export_at_all_is_refused(tmp_path, capsys, content, why):
    path = tmp_path / "odd.bin"
    path.write_bytes(content)
    assert main(["map", str(path)]) == 1
    assert why in capsys.readouterr().err
