"""Exports of shapes that a workshop has, each a case that once failed: read right by the proposals, or asked."""

import io
import json
import zipfile
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import xlsxwriter

from analysis.vocabulary.modules import ModuleIndex
from pipelines.commands.cli import main
from pipelines.ingest.mapping_draft import ask_answers
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.draft_mapping import draft_mapping
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.mapping.mapping_keys import FIELDS, example_of, mapping_docs
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_mapped
from pipelines.settings import Settings
from pipelines.storage.sql_models import reference_table
from tests.studies.odd_exports.fresh_again import draw_again
from tests.studies.odd_exports.fresh_set import draw_fresh
from tests.studies.odd_exports.fresh_third import draw_third
from tests.studies.odd_exports.held_out import draw_held_out
from tests.studies.odd_exports.score import score
from tests.studies.odd_exports.shapes import SHAPES, draw_exports

INDEX = ModuleIndex.from_rows(reference_table("modules").iter_rows(named=True))


def drafted(path: Path, answers: dict[str, str] | None = None) -> Draft:
    return draft_mapping(path, lambda text: INDEX.canonical(text)[1], answers)


def read(path: Path, answers: dict[str, str] | None = None) -> Reading:
    draft = drafted(path, answers)
    assert not draft.open, draft.open
    (path.parent / "draft.toml").write_text(draft.toml(), encoding="utf-8")
    return read_mapped(path, load_mapping(path.parent / "draft.toml"), ZoneInfo("UTC"))


def written(folder: Path, name: str, text: str | bytes) -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


# Nothing in these tells which column is which, or they are of a shape that no mapping describes.
TOLD = (*("long items", "headless", "pdf letters", "zip two tables"),)
DRAWN = (
    *draw_exports(4711, len(SHAPES)),
    *draw_held_out(4711),
    *draw_fresh(4711),
    *draw_again(4711),
    *draw_third(4711),
)
# One of each ending is read by the quick tests.
QUICK = {export.name.rsplit(".", 1)[-1].lower(): export.kind for export in reversed(DRAWN)}
CASES = [
    pytest.param(export, id=export.kind, marks=() if export.kind in QUICK.values() else pytest.mark.slow)
    for export in DRAWN
]


@pytest.mark.parametrize("export", CASES)
def test_no_kind_of_export_is_silently_wrong(export):
    # The truth is drawn, the export written from it, and the rows expected are the truth's own.
    result, why = score(export)
    assert result == ("told" if export.asks or export.kind in TOLD else "right"), why


def test_three_fault_columns_are_three_codes_and_blank_ones_none(tmp_path):
    text = "Fahrzeug;Datum;Steuergerät;Fehler 1;Fehler 2;Fehler 3\n"
    text += "K1;27.09.2026 09:15;ECM;P0301;P0171;\nK1;27.09.2026 09:15;ABS;;;\n"
    reading = read(written(tmp_path, "liste.csv", text))
    rows = reading.rows.select("row", "module", "code").rows()
    assert rows == [(2, "ECM", "P0301"), (2, "ECM", "P0171"), (3, "ABS", None)]
    assert (reading.account.codes, reading.account.codes_read) == (2, 2)


def test_a_number_is_no_odometer_without_a_name_or_a_unit(tmp_path):
    text = "Vehicle,Date,Module,Code,Maker no.,State no.,Year\nK1,2026-09-27,ECM,P0301,16685,8,2014\n"
    assert read(written(tmp_path, "scans.csv", text)).rows["odometer"].to_list() == [None]


@pytest.mark.parametrize(
    ("heading", "cell", "wanted"),
    [
        ("Odometer (mi)", "41000", ("41000", "mi")),
        ("Mileage", "41,000 mi", ("41000", "mi")),
        ("km", "66.316", ("66316", "km")),
    ],
)
def test_units_and_thousands_in_headings_and_cells(tmp_path, heading, cell, wanted):
    cells = [cell, cell.replace("1", "3"), cell.replace("1", "5")]
    rows = "".join(f"K{n};2026-09-2{n};ECM;P0301;{one}\n" for n, one in enumerate(cells))
    reading = read(written(tmp_path, "scans.csv", f"Vehicle;Date;Module;Code;{heading}\n{rows}"))
    assert reading.rows.select("odometer", "odometer_unit").row(0) == wanted


def test_status_words_are_translated_and_an_unknown_one_is_asked(tmp_path):
    head = "Fahrzeug;Datum;Steuergerät;Fehlercode;Status\n"
    words = {"aktiv": "active", "gespeichert": "confirmed", "passiv": "history", "sporadisch": "confirmed"}
    rows = "".join(f"K1;27.09.2026;ECM;P030{n};{word}\n" for n, word in enumerate(words))
    assert read(written(tmp_path, "a.csv", head + rows)).rows["status"].to_list() == list(words.values())
    odd = written(tmp_path, "b.csv", head + rows + "K1;27.09.2026;ECM;P0309;schief\n")
    assert [asked.key for asked in drafted(odd).open] == ["values.status.schief"]
    assert read(odd, {"values.status.schief": "pending"}).rows["status"].to_list()[-1] == "pending"


def test_a_formula_in_a_column_nobody_needs_refuses_nothing_and_stored_values_count(tmp_path):
    content = io.BytesIO()
    book = xlsxwriter.Workbook(content, {"in_memory": True})
    sheet = book.add_worksheet()
    for at, row in enumerate((("Vehicle", "Date", "Module", "Code", "Days"), ("K1", "2026-09-27", "ECM", "", ""))):
        for place, cell in enumerate(row):
            sheet.write(at, place, cell)
    sheet.write_formula(1, 3, '="P"&"0301"', None, "P0301")
    sheet.write_formula(1, 4, "=TODAY()-B2", None, 3)
    book.close()
    assert read(written(tmp_path, "book.xlsx", content.getvalue())).rows["code"].to_list() == ["P0301"]


def test_a_file_of_a_zip_that_was_not_read_is_named_with_its_codes(tmp_path):
    content = io.BytesIO()
    head = "Vehicle;Date;Module;Code;Status\n"
    with zipfile.ZipFile(content, "w") as packed:
        packed.writestr("a.csv", head + "K1;2026-09-27;ECM;P0301;active\nK2;2026-09-27;ECM;P0171;active\n")
        packed.writestr("notes.csv", "Remark;Other;More\nsee P0420;x;y\n")
    reading = read(written(tmp_path, "all.zip", content.getvalue()))
    assert reading.rows["code"].to_list() == ["P0301", "P0171"]
    said = "2 of 3 texts that look like a code were read; 1 were not read (P0420)"
    assert reading.notes[-1].startswith(f"not everything was read: {said}")
    assert reading.notes[-1].endswith("2 files, 1 read (not notes.csv)")


def test_lines_below_codes_tell_their_state_and_others_are_asked_about(tmp_path):
    text = "".join(f"Car: K{n}\nDate: 2026-09-27 09:15\n[01] Engine\n  P0301 Misfire\n     {{}}\n" for n in range(3))
    assert read(written(tmp_path, "a.txt", text.format("stored", "active", "stored"))).rows["status"].to_list() == [
        "confirmed",
        "active",
        "confirmed",
    ]
    odd = text.format("perhaps", "perhaps not", "perhaps")
    assert [asked.key for asked in drafted(written(tmp_path, "b.txt", odd)).open] == ["text.below"]


def test_yes_refuses_what_nothing_can_decide_and_an_answer_decides_it(tmp_path, capsys):
    path = written(tmp_path, "days.csv", "Car,Date,Module,DTC\nK1,03/04/2026 09:15,ECM,P0301\n")
    out = tmp_path / "mappings" / "days.toml"
    assert main(["map", str(path), "--yes", "--out", str(out)]) == 1
    assert "--answer 'date_formats=...'. Nothing was written." in capsys.readouterr().err
    assert not out.exists()
    assert main(["map", str(path), "--yes", "--answer", "date_formats=%d/%m/%Y %H:%M", "--out", str(out)]) == 0
    assert "2026-04-03 09:15:00" in capsys.readouterr().out
    # The next file of the kind is known again; one whose export has changed differs loudly.
    inbox = tmp_path / "inbox" / "scans"
    inbox.mkdir(parents=True)
    (inbox / "next.csv").write_text("Car,Date,Module,DTC\nK2,03/04/2026 09:15,ECM,P0301\n")
    assert main(["check", str(inbox / "next.csv")]) == 0
    assert "1 of 1 texts that look like a code were read" in capsys.readouterr().out
    (inbox / "next.csv").write_text("Car,Date,Unit,DTC\nK2,03/04/2026 09:15,ECM,P0301\n")
    assert main(["check", str(inbox / "next.csv")]) == 1
    assert (
        "the header lacks Module, which mappings/days.toml needs; it has Car, Date, Unit, DTC"
        in capsys.readouterr().out
    )


def test_in_a_terminal_each_guess_is_a_question_and_a_preview_stands_before_it(tmp_path):
    path = written(tmp_path, "days.csv", "Car,Date,Module,DTC\nK1,03/04/2026 09:15,ECM,P0301\n")
    said: list[str] = []
    asked: list[str] = []

    def ask(question: str, _: object) -> str:
        asked.append(question)
        return "%m/%d/%Y %H:%M" if question.startswith("date_formats") else ""

    answers = ask_answers(path, Settings(), ask, said.append)
    assert answers["columns.code"] == "DTC"
    assert asked[-1] == "date_formats (nothing is proposed)"
    assert any(line.startswith("1 | K1") or "2026-03-04 09:15:00" in line for line in said)


def test_what_a_table_of_ours_lacks_is_said_and_near_headings_are_offered(tmp_path, capsys):
    path = written(tmp_path, "own.csv", "vehicle;scanned_at;Steuergerät;code\nK1;2026-09-27;ECM;P0301\n")
    assert main(["check", str(path)]) == 1
    shown = " ".join(capsys.readouterr().out.split())
    assert "looks like scans; the column module is missing. It has vehicle, scanned_at, Steuergerät, code" in shown
    assert "'Steuergerät' may be module" in shown


def test_every_key_of_a_mapping_has_an_example_that_can_be_set(tmp_path):
    page = mapping_docs()
    for name in FIELDS:
        key, example = example_of(name)
        assert f"`{key} = {example}`".replace("|", "\\|") in page
    # Each example is taken by the model itself, in a mapping of the format that it goes with.
    table = ['columns.vehicle = "a"', 'columns.scanned_at = "b"', 'columns.module = "c"']
    text = ['text.scan = "(?<vehicle>a)(?<scanned_at>b)"', 'text.module = "(?<module>c)"', 'text.code = "(?<code>d)"']
    jobs = ['table = "repairs"', *(f'columns.{name} = "a"' for name in ("vehicle", "job", "done_at", "action"))]
    beside = {
        "labour_rate": 'labour = "money"',
        "time_zone": 'date_formats = ["%Y-%m-%d"]',
        "erased.column": 'erased.yes = ["y"]',
        "erased.yes": 'erased.column = "e"',
        "flags.columns.*": 'flags.yes = ["x"]',
        **dict.fromkeys(
            ("flags.yes", "flags.no", "flags.otherwise"), 'flags.columns.now = "active"\nflags.yes = ["z"]'
        ),
        "lines.between": 'lines.cut = "(?<rest>a)"\nlines.piece = "(?<b>b)"',
        "lines.piece": 'lines.cut = "(?<rest>a)"\nlines.between = "b"',
        "join.sheet": 'join.keys.a = "b"',
        **dict.fromkeys(("join.header_row", "join.keys.*"), 'join.sheet = "s"\njoin.keys.z = "b"'),
    }
    for name in FIELDS:
        key, example = example_of(name)
        form = (
            "text"
            if name.startswith("text")
            else "lines"
            if name.startswith("lines")
            else "xlsx"
            if name.startswith(("sheet", "hidden", "join"))
            else "table"
        )
        base = [
            'serves = ["*.x"]',
            f'format = "{form}"',
            *(text if form == "text" else jobs if name.startswith(("erased", "other_work")) else table),
            beside.get(name, ""),
        ]
        if name == "wide.*":
            base = [line for line in base if "module" not in line]
        lines = [line for line in "\n".join(base).split("\n") if not line.startswith(f"{key} =")]
        lines = [line for line in lines if name != "join.keys.*" or not line.startswith("join.keys")]
        (tmp_path / "one.toml").write_text("\n".join([f"{key} = {example}", *lines]), encoding="utf-8")
        load_mapping(tmp_path / "one.toml")


def test_a_list_of_plain_codes_in_json_is_a_row_each(tmp_path):
    content = json.dumps(
        {"scans": [{"car": "K1", "date": "2026-09-27 09:15", "ecu": "ECM", "dtcs": ["P0301", "P0171"]}]}
    )
    assert read(written(tmp_path, "scans.json", content)).rows["code"].to_list() == ["P0301", "P0171"]
