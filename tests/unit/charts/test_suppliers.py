"""The suppliers of a part are taken apart as the table joined them, whatever their names hold."""

from __future__ import annotations

import polars as pl
import pytest

from analysis.charts.page_sections import each, listed, supplier_lines


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


def test_only_parts_from_more_than_one_supplier_are_split():
    rows = pl.DataFrame(
        {
            "part": ["battery", "alternator"],
            "family": ["ECM:P0562", "ECM:P0562"],
            "suppliers": ["Meier; Sons 3/4;Akku 1/2", "Meier; Sons 3/4"],
        }
    )
    assert supplier_lines(rows).rows() == [
        ("battery", "ECM:P0562", "Akku", 1, 2),
        ("battery", "ECM:P0562", "Meier; Sons", 3, 4),
    ]
