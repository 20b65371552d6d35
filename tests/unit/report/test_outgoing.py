"""The outgoing tables: declared once, checked and rounded on the way out."""

from __future__ import annotations

import re
from datetime import date, datetime

import polars as pl
import pytest

from pipelines.errors import ModelError
from pipelines.report import outgoing
from pipelines.report.outgoing_columns import KIND_WORDS, Kind
from pipelines.report.outgoing_tables import TABLES

# The columns as the exchange layout promises them, written out a second time by hand.
PROMISED = {
    "shortlist": "vehicle make model rank part position action or_else chance chance_low chance_high part_cost "
    "labour_cost total_cost expected_cost clears leaves jobs jobs_cleared basis cheap inspection caution check_first",
    "families": "family size vehicles codes root knock_on strength q_value best_part best_part_rate best_part_low "
    "best_part_high jobs erase_rate",
    "rules": "antecedent consequent vehicles support confidence confidence_low confidence_high lift leverage "
    "conviction odds_ratio odds_low odds_high p_value q_value verdict",
    "verdict_weeks": "antecedent consequent since",
    "part_results": "part family jobs cleared rate rate_low rate_high erase_jobs erase_cleared erase_rate gain "
    "gain_low gain_high returned median_days_to_return suppliers",
    "outcomes": "vehicle job module code outcome km_proven cleared_chance",
    "open_codes": "vehicle module code first_seen last_seen status background family",
    "family_cars": "family vehicle line first_seen last_seen",
    "family_weeks": "family week vehicles",
    "family_changes": "family before change vehicles vehicles_before came left",
    "car_changes": "vehicle change first_try first_try_before",
    "worse_parts": "part supplier returned jobs others_returned others q_value warning",
    "backtest": "n top1 top3 cost_vs_named cost_vs_fitted judged brier cuts reserve",
    "reliability": "tenth predicted observed low high n",
    "standing": "vehicle make codes cars erases_survived kind state reason",
    "ledger": "month vehicle job list_week first_try followed chance outcome part_cost labour_cost supplier",
    "rejects": "file row column value why",
}


def outcomes(**changes: object) -> pl.DataFrame:
    """Two rows of past outcomes, as the marts hand them over."""
    columns: dict[str, object] = {
        "code": ["ABS:C0031", "TCM:U0415"],
        "job_id": [1, 1],
        "vehicle": ["K-1", "K-1"],
        "job": ["J1", "J1"],
        "module": ["ABS", "TCM"],
        "outcome": ["cleared", "unread"],
        "km_proven": [91.26, None],
        "cleared_chance": [0.98764, None],
    }
    return pl.DataFrame(columns | changes)


def shortlist_row(**changes: object) -> pl.DataFrame:
    """One row of the shortlist with cents for money."""
    row: dict[str, object] = dict.fromkeys(PROMISED["shortlist"].split())
    row |= {"vehicle": "K-1", "rank": 1, "action": "replace", "cheap": True, "chance": 0.123456, "part_cost": 1999}
    return pl.DataFrame([row | changes], schema_overrides={"total_cost": pl.Int64, "expected_cost": pl.Float64})


def test_the_tables_and_their_columns_are_the_promised_ones_in_the_promised_order():
    assert {name: [column.name for column in table.columns] for name, table in TABLES.items()} == {
        name: columns.split() for name, columns in PROMISED.items()
    }


def test_extra_columns_stay_behind_and_the_order_of_rows_is_kept():
    ready = outgoing.prepare("outcomes", outcomes().reverse())
    assert ready.columns == PROMISED["outcomes"].split()
    assert ready["code"].to_list() == ["TCM:U0415", "ABS:C0031"]
    assert ready["km_proven"].to_list() == [None, 91.3]
    assert ready["cleared_chance"].to_list() == [None, 0.9876]


def test_cents_become_units_and_shares_get_four_decimals():
    ready = outgoing.prepare("shortlist", shortlist_row(expected_cost=6412.345))
    assert ready.select("part_cost", "expected_cost", "total_cost", "chance").row(0) == (19.99, 64.12, None, 0.1235)
    assert ready.schema["total_cost"] == pl.Float64


def test_small_numbers_keep_four_significant_digits():
    # Four decimals would turn every strong rule's p-value into nothing.
    rule = dict.fromkeys(PROMISED["rules"].split())
    rule |= {"antecedent": "A", "consequent": "B", "verdict": "confirmed", "p_value": 1.23456e-9, "q_value": 0.0456789}
    ready = outgoing.prepare("rules", pl.DataFrame([rule | {"conviction": float("inf"), "leverage": -0.00001}]))
    assert ready.select("p_value", "q_value").row(0) == (1.235e-9, 0.04568)
    assert ready["conviction"].to_list() == [None]
    assert str(ready["leverage"][0]) == "0.0"


def test_times_become_days_and_text_of_no_characters_is_null():
    frame = pl.DataFrame(
        {
            "vehicle": ["K-1"],
            "module": ["ABS"],
            "code": ["ABS:C0031"],
            "first_seen": [datetime(2026, 3, 1, 23, 59)],
            "last_seen": [date(2026, 3, 2)],
            "status": [""],
            "background": pl.Series([None], dtype=pl.Null),
            "family": pl.Series(["a"], dtype=pl.Categorical),
        }
    )
    ready = outgoing.prepare("open_codes", frame)
    assert ready.row(0) == ("K-1", "ABS", "ABS:C0031", date(2026, 3, 1), date(2026, 3, 2), None, None, "a")
    assert ready.schema["background"] == pl.String


def test_a_table_without_rows_keeps_its_types():
    ready = outgoing.prepare("outcomes", outcomes().clear())
    assert ready.schema == pl.Schema(
        dict.fromkeys(("vehicle", "job", "module", "code", "outcome"), pl.String)
        | dict.fromkeys(("km_proven", "cleared_chance"), pl.Float64)
    )


def refused(name: str, frame: pl.DataFrame, message: str) -> None:
    with pytest.raises(ModelError, match=f"^{re.escape(message)}$"):
        outgoing.prepare(name, frame)


def test_an_unknown_table_is_named():
    known = ", ".join(PROMISED)
    refused("shopping", outcomes(), f"shopping is no outgoing table; the tables are {known}.")


def test_missing_columns_are_named():
    refused(
        "outcomes",
        outcomes().select("vehicle", "job", "module", "code"),
        "outgoing table outcomes lacks the column outcome, km_proven, cleared_chance; it has ['vehicle', 'job', "
        "'module', 'code'].",
    )


@pytest.mark.parametrize(
    ("column", "value", "wanted", "found"),
    [
        ("code", [["a"], ["b"]], "text", "List(String)"),
        ("km_proven", ["1", "2"], "km, 1 decimal", "String"),
    ],
)
def test_a_wrong_type_is_named(column: str, value: object, wanted: str, found: str):
    refused(
        "outcomes",
        outcomes(**{column: value}),
        f"outgoing table outcomes, column {column}: expected {wanted}, found the type {found}.",
    )


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"rank": 1.5}, "column rank: expected whole number, found the type Float64."),
        ({"cheap": "yes"}, "column cheap: expected true or false, found the type String."),
        ({"chance": 42.0}, "column chance: expected a share from 0 to 1, found 42.0."),
        ({"chance": -0.1}, "column chance: expected a share from 0 to 1, found -0.1."),
        (
            {"action": "guess"},
            "column action: expected one of replace, repair, recheck, specialist, leave, found 'guess'.",
        ),
        ({"vehicle": ""}, "column vehicle: row 1 is blank, and this column must be filled."),
    ],
)
def test_a_value_outside_its_range_is_named(changes: dict[str, object], message: str):
    refused("shortlist", shortlist_row(**changes), f"outgoing table shortlist, {message}")


def test_schemas_follow_the_open_table_schema():
    schemas = outgoing.table_schemas()
    assert list(schemas) == list(PROMISED)
    assert schemas["shortlist"] == outgoing.table_schema("shortlist")
    fields = {field["name"]: field for field in schemas["shortlist"]["fields"]}
    assert {
        name: field["type"] for name, field in fields.items() if name in ("rank", "part_cost", "cheap", "part")
    } == {
        "rank": "integer",
        "part_cost": "number",
        "cheap": "boolean",
        "part": "string",
    }
    assert fields["chance"]["constraints"] == {"minimum": 0, "maximum": 1}
    assert fields["rank"]["constraints"] == {"required": True}
    assert fields["basis"]["constraints"] == {"enum": ["repairs", "pattern", "code"]}
    dates = [field["type"] for field in schemas["open_codes"]["fields"]]
    assert dates == ["string", "string", "string", "date", "date", "string", "string", "string"]
    assert schemas["rejects"]["missingValues"] == [""]


def test_every_column_has_one_sentence_on_the_column_page():
    page = outgoing.column_docs()
    rows = [line for line in page.splitlines() if line.startswith("| ") and not line.startswith("| column | type")]
    promised = [column for columns in PROMISED.values() for column in columns.split()]
    assert [line.split(" | ")[0].removeprefix("| ") for line in rows] == promised
    assert all(line.endswith(". |") and line.count("|") == 4 for line in rows)
    assert [line for line in page.splitlines() if line.startswith("## ")] == [f"## {name}.csv" for name in PROMISED]


def test_every_kind_of_value_is_used_and_has_words():
    used = {column.kind for table in TABLES.values() for column in table.columns}
    assert used == set(Kind) == set(KIND_WORDS)
