"""The declared layouts: what is published of them says what the reader holds files to."""

import json
import re
from zoneinfo import ZoneInfo

import pytest

from pipelines.reading.layouts import LAYOUTS, column_docs, table_schema
from pipelines.reading.read_table import read_table

# Table Schema's own list of field types and of constraints, as far as tables of text use them (from memory).
TYPES = {"string", "number", "integer", "boolean", "date", "datetime"}
CONSTRAINTS = {"required", "enum", "minimum", "maximum", "pattern"}


def cells_allowed_by(field):
    """Return one cell that the published field allows and some that it does not."""
    limits = field["constraints"]
    if "enum" in limits:
        return limits["enum"][0], ["something else"]
    if "pattern" in limits:
        tries = ["0a", "2026-11-23", "0g", "0", "stored", "tomorrow"]
        allowed = [text for text in tries if re.fullmatch(limits["pattern"], text)]
        return allowed[0], [text for text in tries if text not in allowed]
    if "maximum" in limits:
        return str(limits["minimum"]), [str(limits["maximum"] + 1), str(limits["minimum"] - 1), "some"]
    return {
        "string": ("12345678", []),
        "boolean": ("true", ["maybe"]),
        "date": ("2026-11-23", ["2026-02-30", "tomorrow"]),
        "datetime": ("2026-11-23T09:15:00", ["09:15", "2026-11-23 25:00"]),
    }[field["type"]]


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=list(LAYOUTS))
def test_a_schema_is_whole_and_can_be_written_as_json(layout):
    schema = json.loads(json.dumps(table_schema(layout)))
    assert [field["name"] for field in schema["fields"]] == [column.name for column in layout.columns]
    assert {field["type"] for field in schema["fields"]} <= TYPES
    assert {name for field in schema["fields"] for name in field["constraints"]} <= CONSTRAINTS
    assert schema["missingValues"] == [""]


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=list(LAYOUTS))
def test_the_reader_takes_what_the_schema_allows_and_refuses_the_rest(tmp_path, layout):
    fields = table_schema(layout)["fields"]
    good = {field["name"]: cells_allowed_by(field)[0] for field in fields}
    tried = [(field["name"], bad) for field in fields for bad in cells_allowed_by(field)[1]]
    tried += [(field["name"], "") for field in fields if field["constraints"]["required"]]
    lines = [",".join(good), ",".join(good.values())]
    lines += [",".join({**good, name: bad}.values()) for name, bad in tried]
    path = tmp_path / "all.csv"
    path.write_text("\n".join(lines))
    reading = read_table(path, layout, ZoneInfo("UTC"))
    assert reading.rows["row"].to_list() == [2]
    assert reading.rejects.select("column", "value").rows() == tried


def test_every_table_of_the_inbox_is_declared():
    assert list(LAYOUTS) == ["scans", "stock", "repairs", "parts", "background"]
    required = {name: [column.name for column in layout.columns if column.required] for name, layout in LAYOUTS.items()}
    assert required == {
        "scans": ["scanned_at", "module"],
        "stock": ["vehicle", "make", "model"],
        "repairs": ["vehicle", "job", "done_at", "action"],
        "parts": ["part"],
        "background": ["reason"],
    }


def test_rules_over_several_columns_are_published_in_words():
    rules = {name: table_schema(layout)["rowRules"] for name, layout in LAYOUTS.items()}
    assert rules == {
        "scans": ["vehicle or vin must be filled"],
        "stock": [],
        "repairs": ["part must be filled where action is replace, repair, clean, adjust"],
        "parts": [],
        "background": ["module or code must be filled"],
    }


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=list(LAYOUTS))
def test_the_page_of_columns_has_a_line_for_each(layout):
    lines = column_docs(layout).splitlines()
    assert lines[0] == f"## {layout.name}"
    rows = [line.split(" | ") for line in lines if line.startswith("| ")][1:]
    assert [row[0].removeprefix("| ") for row in rows] == [column.name for column in layout.columns]
    assert [row[2] == "yes" for row in rows] == [column.required for column in layout.columns]
    assert {len(row) for row in rows} == {4}
    for rule in layout.rules:
        assert f"In every row, {rule.doc}." in lines
