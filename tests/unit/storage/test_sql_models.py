"""Headers of SQL models are held against their queries, and order follows what they read."""

import pytest

from pipelines.errors import ModelError
from pipelines.storage.sql_models import (
    build_order,
    downstream,
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
-- params: least
select thing from raw.things join raw.limits using (thing) where size >= $least
"""


def test_a_header_names_grain_sources_and_parameters():
    model = parse_model("core.things", GOOD)
    assert (model.grain, model.reads, model.params) == (("thing",), ("raw.things", "raw.limits"), ("least",))


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
    ],
)
def test_a_header_that_drifts_from_its_query_is_refused(old, new, message):
    with pytest.raises(ModelError, match=message):
        parse_model("core.things", GOOD.replace(old, new, 1))


def test_each_model_comes_after_all_it_reads():
    done: set[str] = set()
    models = shipped_models()
    own = {model.name for model in models}
    for model in models:
        assert set(model.reads) & own <= done, model.name
        done.add(model.name)


def test_a_circle_is_named():
    a = parse_model("core.a", "-- One row per a.\n-- grain: x\n-- reads: core.b\nselect x from core.b")
    b = parse_model("core.b", "-- One row per b.\n-- grain: x\n-- reads: core.a\nselect x from core.a")
    with pytest.raises(ModelError, match=r"read each other in a circle: core\.[ab], core\.[ab], core\.[ab]"):
        build_order([a, b])


def test_reference_tables_ship_with_the_program():
    assert {"generic_codes", "modules"} <= set(reference_names())
    assert reference_table("modules").columns[:3] == ["module", "name", "also_called"]
    assert reference_table("modules")["module"][0] == "ECM"


def test_what_rests_on_a_model_is_built_again_with_it():
    a = parse_model("core.a", "-- One row per a.\n-- grain: x\n-- reads: raw.r\nselect x from raw.r")
    b = parse_model("core.b", "-- One row per b.\n-- grain: x\n-- reads: core.a\nselect x from core.a")
    c = parse_model("core.c", "-- One row per c.\n-- grain: x\n-- reads: core.b\nselect x from core.b")
    d = parse_model("core.d", "-- One row per d.\n-- grain: x\n-- reads: core.a\nselect x from core.a")
    assert [model.name for model in downstream(build_order([a, b, c, d]), "core.b")] == ["core.b", "core.c"]
    assert [model.name for model in upstream(build_order([a, b, c, d]), "core.b")] == ["core.a", "core.b"]
