"""Headers of SQL models are held against their queries, and order follows what they read."""

import polars as pl
import pytest

from pipelines.errors import ModelError
from pipelines.storage.sql_models import (
    Model,
    build_order,
    column_docs,
    marts_page,
    parse_model,
    reference_names,
    reference_table,
    shipped_models,
    upstream,
)

GOOD = """-- One row per thing.
-- grain: thing
-- reads: raw.things,
--   raw.limits
-- columns:
--   thing varchar: its name
--   length double km or blank: how far it reaches
-- params: least
select thing from raw.things join raw.limits using (thing) where size >= $least
"""


def test_a_header_names_grain_sources_and_parameters():
    model = parse_model("core.things", GOOD)
    assert (model.grain, model.reads, model.params) == (("thing",), ("raw.things", "raw.limits"), ("least",))
    assert model.row == "One row per thing."


def test_a_header_declares_columns_that_arrive_in_polars_with_their_types():
    model = parse_model("core.things", GOOD)
    assert model.schema == pl.Schema({"thing": pl.String, "length": pl.Float64})
    assert model.filled == ("thing",)
    assert [(column.unit, column.meaning) for column in model.columns] == [
        (None, "its name"),
        ("km", "how far it reaches"),
    ]


def test_columns_are_told_as_a_page():
    assert column_docs(parse_model("core.things", GOOD)) == (
        "## core.things\n\nOne row per thing. Grain: thing.\n\n"
        "| column | type | unit | may be blank | meaning |\n|---|---|---|---|---|\n"
        "| thing | varchar |  |  | its name |\n| length | double | km | yes | how far it reaches |\n"
    )
    assert [line for line in marts_page().splitlines() if line.startswith("## ")] == sorted(
        f"## {model.name}" for model in shipped_models() if model.name.startswith("marts.")
    )


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "-- One row per thing.",
            "-- All things.",
            r"sql/core/things.sql: the first line must begin '-- One row per '",
        ),
        ("-- grain: thing\n", "", r"sql/core/things.sql: the header lacks a line '-- grain: ...'"),
        ("raw.things,\n--   raw.limits", "raw.things", r"the header says reads \['raw.things'\], the query"),
        ("-- params: least\n", "", r"the header says params \[\], the query \['least'\]"),
        ("-- columns:\n", "", r"the header lacks a line '-- columns: ...'"),
        (" double km", " miles", r"expected a column as 'name type .*; found '--   length miles or blank: how far"),
        ("thing varchar:", "thing varchar or blank:", r"the grain \['thing'\] must be among the columns that are"),
        ("select thing", "selct thing", r"sql/core/things.sql: no SELECT that can be parsed: syntax error .*selct"),
    ],
)
def test_a_header_that_drifts_from_its_query_is_refused(old, new, message):
    with pytest.raises(ModelError, match=message):
        parse_model("core.things", GOOD.replace(old, new, 1))


def test_what_a_query_reads_is_what_the_parser_says_not_what_its_text_looks_like():
    text = GOOD.replace("where size", "where 'join raw.words' <> '' and size")
    text = text.replace("select thing", "with raw_size as (select 1 as one) select thing, (select one from raw_size)")
    assert parse_model("core.things", text).reads == ("raw.things", "raw.limits")
    hidden = GOOD.replace("where size", "where thing in (select thing from /* a remark */ core.others) and size")
    with pytest.raises(ModelError, match=r"reads \['raw.limits', 'raw.things'\], the query \['core.others', "):
        parse_model("core.things", hidden)


def test_each_model_that_ships_is_what_its_header_says():
    for model in shipped_models():
        assert parse_model(model.name, model.query) == model


def test_each_model_comes_after_all_it_reads():
    done: set[str] = set()
    models = shipped_models()
    own = {model.name for model in models}
    for model in models:
        assert set(model.reads) & own <= done, model.name
        done.add(model.name)


def model(name: str, reads: str) -> Model:
    header = f"-- One row per {name}.\n-- grain: x\n-- reads: {reads}\n-- columns:\n--   x bigint: it\n"
    return parse_model(f"core.{name}", f"{header}select x from {reads}")


def test_a_circle_is_named():
    a = model("a", "core.b")
    b = model("b", "core.a")
    with pytest.raises(ModelError, match=r"read each other in a circle: core\.[ab], core\.[ab], core\.[ab]"):
        build_order([a, b])


def test_reference_tables_ship_with_the_program():
    assert {"generic_codes", "modules"} <= set(reference_names())
    assert reference_table("modules").columns[:3] == ["module", "name", "also_called"]
    assert reference_table("modules")["module"][0] == "ECM"


def test_what_a_model_rests_on_comes_before_it_and_nothing_else_comes():
    for name in ("staging.known_vins", "marts.open_codes"):
        found = upstream(name)
        known = {model.name for model in found}
        assert found[-1].name == name
        # Counted by another route: from the last to the first, whoever is read by one that is needed.
        needed = {name}
        for model in reversed(shipped_models()):
            needed |= set(model.reads) if model.name in needed else set()
        assert known == needed & {model.name for model in shipped_models()}
    assert upstream("core.nothing_of_the_kind") == []
