"""The suppliers of a part are taken apart as the table joined them, whatever their names hold."""

from __future__ import annotations

import pytest

from analysis.charts.page_sections import each, listed


@pytest.mark.parametrize(
    ("told", "wanted"),
    [
        (None, []),
        ("", []),
        ("Nordteile 3/4", [("Nordteile", 3, 4)]),
        ("Nordteile 3/4;Teile 24 0/1", [("Nordteile", 3, 4), ("Teile 24", 0, 1)]),
        ("Meier; Sons 3/4;Nordteile 1/2", [("Meier; Sons", 3, 4), ("Nordteile", 1, 2)]),
        ("a\nb 12/13;;x 1/1", [("a\nb", 12, 13), (";x", 1, 1)]),
    ],
)
def test_each_supplier_keeps_its_name_and_its_counts(told: str | None, wanted: list[tuple[str, int, int]]):
    assert each(told) == wanted
    assert listed(told) == ", ".join(f"{name} {cleared}/{jobs}" for name, cleared, jobs in wanted)


def test_what_no_supplier_is_known_for_stands_last_so_that_the_counts_add_up():
    assert listed("Nordteile 3/4", 5, 7) == "Nordteile 3/4, supplier not known 2/3"
    assert listed("Nordteile 3/4", 3, 4) == "Nordteile 3/4"
    assert listed("", 2, 2) == ""
