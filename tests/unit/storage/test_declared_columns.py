"""Each model's table is what its header says: a column renamed, of another type or blank is named at the build."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from pipelines.errors import ModelError
from pipelines.storage.sql_models import TYPES, Model, shipped_models
from pipelines.storage.warehouse import Warehouse
from tests.support.small_dealer import PARAMS, build, workspace

FILLED = {
    "bigint": "1",
    "boolean": "true",
    "date": "'2026-03-01'",
    "double": "1.5",
    "timestamp": "'2026-03-01 09:00:00'",
    "varchar": "'x'",
    "varchar[]": "['x']",
}
MODELS = pytest.mark.parametrize("model", shipped_models(), ids=lambda model: model.name)


@pytest.fixture(scope="module")
def warehouse(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Warehouse]:
    """A database in which every model is built, of a dealer without a row."""
    with Warehouse(workspace(tmp_path_factory.mktemp("dealer")).database) as opened:
        build(opened)
        yield opened


def refused(warehouse: Warehouse, model: Model, query: str) -> str:
    """Build another query under a model's header; return why it is refused."""
    with pytest.raises(ModelError) as caught:
        warehouse.build(replace(model, query=query), PARAMS)
    return str(caught.value)


@pytest.fixture
def tried(warehouse: Warehouse, model: Model) -> Iterator[Warehouse]:
    """The database, with the model's true table back in its place at the end."""
    yield warehouse
    warehouse.build(model, PARAMS)


@MODELS
def test_a_renamed_column_is_named(tried, model):
    # The first and the last: between them all are held against the header in the same way.
    for place, column in {1: model.columns[0], len(model.columns): model.columns[-1]}.items():
        query = f'select * rename ("{column.name}" as renamed) from (\n{model.query})'
        assert refused(tried, model, query) == (
            f"the SQL model {model.name}: column {place} is renamed {column.type}; "
            f"its header declares {column.name} {column.type}"
        )


@pytest.mark.slow
@MODELS
def test_a_column_of_another_type_is_named(tried, model):
    for place, column in enumerate(model.columns, start=1):
        other = "bigint" if column.type == "varchar" else "varchar"
        query = f'select * replace (null::{other} as "{column.name}") from (\n{model.query})'
        assert refused(tried, model, query) == (
            f"the SQL model {model.name}: column {place} is {column.name} {other}; "
            f"its header declares {column.name} {column.type}"
        )


@MODELS
def test_a_blank_is_named_where_the_header_declares_none(tried, model):
    for column in model.columns:
        values = ", ".join(
            f'{"null" if one == column else FILLED[one.type]}::{one.type} as "{one.name}"' for one in model.columns
        )
        query = f"select * from (\n{model.query}) union all by name select {values}"
        if column.may_be_blank:
            tried.build(replace(model, query=query), PARAMS)
        else:
            told = refused(tried, model, query)
            assert told.startswith(f"the SQL model {model.name}: column {column.name} is blank in 1 rows, the first of")
            assert told.endswith("its header declares it never blank")


@MODELS
def test_what_is_fetched_has_the_declared_columns_and_types(warehouse, model):
    assert warehouse.fetch(model.name).schema == model.schema


def test_every_type_that_a_header_may_declare_is_tried(warehouse):
    assert {column.type for model in shipped_models() for column in model.columns} == set(TYPES)
    assert set(TYPES) == FILLED.keys()


def test_a_table_that_another_program_version_built_is_not_fetched(warehouse):
    warehouse.execute("create or replace table marts.waiting as select 'A1' as vehicle")
    with pytest.raises(ModelError, match=r"marts\.waiting: column 2 is missing; its header declares erased_at time"):
        warehouse.fetch("marts.waiting")
