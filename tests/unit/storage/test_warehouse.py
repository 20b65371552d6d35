"""The database keeps to itself, and says so plainly when it cannot be opened."""

import duckdb
import polars as pl
import pytest

from pipelines.errors import DamagedError, ModelError
from pipelines.storage.sql_models import parse_model
from pipelines.storage.warehouse import Warehouse


def test_no_query_reaches_a_file_or_the_network(tmp_path):
    (tmp_path / "secret.csv").write_text("a\n1\n")
    with Warehouse(tmp_path / "k.duckdb") as warehouse, pytest.raises(duckdb.PermissionException):
        warehouse.query(f"select * from read_csv('{tmp_path / 'secret.csv'}')")


def test_a_file_that_is_no_database_is_named(tmp_path):
    (tmp_path / "k.duckdb").write_bytes(b"not a database at all, but long enough to be looked at" * 100)
    with pytest.raises(DamagedError, match=r"k\.duckdb is damaged or no database \(.*\)\. It was left as it is"):
        Warehouse(tmp_path / "k.duckdb")


def test_tables_come_back_in_the_order_of_their_columns(tmp_path):
    with Warehouse(tmp_path / "k.duckdb") as warehouse:
        warehouse.replace_table("staging.letters", pl.DataFrame({"n": [2, 1, 1], "x": ["b", "d", "c"]}))
        assert warehouse.fetch("staging.letters").rows() == [(1, "c"), (1, "d"), (2, "b")]
        assert warehouse.fetch("staging.letters", ("x",)).rows() == [(2, "b"), (1, "c"), (1, "d")]


def test_a_query_that_fails_names_its_model(tmp_path):
    header = "-- One row per x.\n-- grain: x\n-- reads: raw.files\n-- columns:\n--   x varchar: it\n"
    text = f"{header}select sha255 as x from raw.files"
    with (
        Warehouse(tmp_path / "k.duckdb") as warehouse,
        pytest.raises(ModelError, match=r"the SQL model core\.wrong failed: .*sha255"),
    ):
        warehouse.build(parse_model("core.wrong", text), {})


def test_the_database_keeps_so_much_in_memory_and_more_where_a_model_needs_it(tmp_path, monkeypatch):
    monkeypatch.setattr("pipelines.storage.warehouse._MEMORY", 8_000_000)
    query = "select range as x from range(300000), staging.things order by hash(range)::varchar || repeat('x', 40)"
    held = "select current_setting('memory_limit') as held"
    with Warehouse(tmp_path / "k.duckdb") as warehouse:
        warehouse.replace_table("staging.things", pl.DataFrame({"one": [1]}))
        assert warehouse.query(held)["held"].to_list() == ["7.6 MiB"]
        warehouse.build(parse_model("core.made", f"{HEADER}--   x bigint: it\n{query}"), {})
        assert warehouse.number("select count(*) from core.made") == 300_000
        assert warehouse.query(held)["held"].to_list() != ["7.6 MiB"]


HEADER = "-- One row per x.\n-- grain: x\n-- reads: staging.things\n-- columns:\n"


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        (["a", None, None], r"core\.made: column x is blank in 2 rows, the first of them x None; its header"),
        (["b", "a", "b", "c", "c"], r"core\.made has 2 rows for x 'b'; expected one"),
    ],
)
def test_a_blank_or_repeated_grain_is_refused(tmp_path, rows, message):
    made = parse_model("core.made", f"{HEADER}--   x varchar: it\nselect x from staging.things")
    with Warehouse(tmp_path / "k.duckdb") as warehouse:
        warehouse.replace_table("staging.things", pl.DataFrame({"x": rows}))
        with pytest.raises(ModelError, match=message):
            warehouse.build(made, {})


@pytest.mark.parametrize(
    ("declared", "message"),
    [
        ("x varchar: it", r"core\.made: column 2 is y double; its header declares missing"),
        ("x varchar: it\n--   y double: it\n--   z date: it", r"column 3 is missing; its header declares z date"),
    ],
)
def test_a_column_too_many_or_too_few_is_named(tmp_path, declared, message):
    made = parse_model("core.made", f"{HEADER}--   {declared}\nselect x, y from staging.things")
    with Warehouse(tmp_path / "k.duckdb") as warehouse:
        warehouse.replace_table("staging.things", pl.DataFrame({"x": ["a"], "y": [1.5]}))
        with pytest.raises(ModelError, match=message):
            warehouse.build(made, {})


def test_reference_tables_are_loaded_as_text(tmp_path):
    with Warehouse(tmp_path / "k.duckdb") as warehouse:
        codes = warehouse.fetch("reference.generic_codes")
        assert codes.filter(code="P0301")["component"].to_list() == ["ignition coil or spark plug"]
        assert set(codes.schema.dtypes()) == {pl.String}
