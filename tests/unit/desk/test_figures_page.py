"""The dealer's own figures: asked at the first visit, changed later, and never half written."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.desk_visitor import Visitor


@pytest.fixture
def visitor(tmp_path: Path) -> Visitor:
    return Visitor(tmp_path / "dealer")


def test_the_first_visit_asks_for_them_and_the_settings_hold_them(visitor: Visitor):
    assert "Your own labour, per hour" in visitor.get("/").text
    answer = visitor.post("/begin", currency="£", odometer_unit="mi", labour_rate="52,50", specialist_cost="280")
    assert answer.status_code == 303
    settings = visitor.desk.settings
    assert (settings.currency, settings.odometer_unit) == ("GBP", "mi")
    assert (settings.labour_rate, settings.specialist_cost) == (52.5, 280)
    kept = visitor.desk.workspace.settings_file.read_text(encoding="utf-8")
    assert "# your own labour, per hour" in kept


def test_they_can_be_changed_and_every_other_line_stays(visitor: Visitor):
    visitor.post("/begin")
    file = visitor.desk.workspace.settings_file
    file.write_text("# mine\nq_value = 0.1\nlabour_rate = 40\n", encoding="utf-8")
    visitor.post("/figures", labour_rate="48", currency="usd", odometer_unit="km", specialist_cost="")
    assert file.read_text(encoding="utf-8") == (
        '# mine\nq_value = 0.1\nlabour_rate = 48\ncurrency = "USD"\nodometer_unit = "km"\n'
    )


@pytest.mark.parametrize(
    ("field", "told", "said"),
    [
        ("labour_rate", "a lot", "wanted a number"),
        ("labour_rate", "-3", "wanted a number"),
        ("currency", "money", "three capital letters"),
        ("odometer_unit", "feet", "odometer_unit"),
    ],
)
def test_a_figure_that_is_none_is_said_and_nothing_is_written(visitor: Visitor, field: str, told: str, said: str):
    visitor.post("/begin")
    file = visitor.desk.workspace.settings_file
    before = file.read_bytes()
    answer = visitor.post("/figures", **{field: told})
    assert answer.status_code == 400
    assert said in answer.text
    assert file.read_bytes() == before
