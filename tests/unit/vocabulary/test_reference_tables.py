"""The shipped reference tables: complete, in our own words, and silent where the open lists disagree."""

import re

import pytest

from analysis.vocabulary.codes import read_code
from pipelines.storage.sql_models import reference_table


def rows(name: str) -> list[dict[str, str]]:
    return reference_table(name).fill_null("").to_dicts()


def test_every_generic_code_is_a_standard_one_and_stands_once():
    codes = [row["code"] for row in rows("generic_codes")]
    assert len(codes) == len(set(codes)) >= 1500
    assert {read_code(code).kind for code in codes} == {"standard"}


def test_no_chassis_code_tells_which_wheel():
    # Two editions of the open code lists give the same numbers to different wheels, so none may be believed.
    for row in rows("generic_codes"):
        if row["code"].startswith("C"):
            assert not re.search(r"\b(front|rear) (left|right)\b", row["description"] + row["component"]), row


@pytest.mark.parametrize("table", ["generic_codes", "modifications", "inspection", "cautions"])
def test_every_module_that_a_table_names_is_known(table):
    known = {row["module"] for row in rows("modules")}
    for row in rows(table):
        named = row.get("points_at") or row.get("module") or row.get("modules") or ""
        assert set(filter(None, named.split(";"))) <= known, row
