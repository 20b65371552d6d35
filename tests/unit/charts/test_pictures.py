"""The charts as pictures of their own: the same marks as on the page, in colours that need no page."""

from __future__ import annotations

import re
import struct
from typing import Any

import pytest

from analysis.charts.page import draw
from analysis.charts.pictures import PNG_SCALE, WIDTH, pictures
from tests.support.sample_report import empty, sample

TABLES, RUN = sample()
CHARTS = ("clusters", "costs", "ledger", "map", "trend", "trust")


@pytest.fixture(scope="module")
def drawn() -> dict[str, Any]:
    return draw(TABLES, RUN["settings"])  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def made(drawn) -> dict[str, bytes]:
    return pictures(drawn)


@pytest.mark.slow
def test_each_chart_is_a_drawing_and_an_image_and_the_same_again(drawn, made):
    assert sorted(drawn) == list(CHARTS)
    assert sorted(made) == sorted(f"{name}.{kind}" for name in CHARTS for kind in ("svg", "png"))
    assert pictures(drawn) == made


@pytest.mark.parametrize("name", CHARTS)
def test_no_colour_is_left_to_a_page_and_no_mark_is_lost(made, name: str):
    svg = made[f"{name}.svg"].decode()
    assert "var(--" not in svg
    assert svg.count("<path") > (3 if name == "ledger" else 10)
    assert "http" not in re.sub(r'xmlns(:\w+)?="[^"]*"', "", svg)


def test_a_code_of_a_family_is_written_in_the_drawing(made):
    for family in TABLES["families"]["family"]:
        assert family in made["trend.svg"].decode()


def test_an_image_is_as_wide_as_its_drawing_says(made):
    # PNG specification (W3C), "IHDR": width and height are two big-endian 32-bit numbers behind the first 16 bytes.
    for name in CHARTS:
        image = made[f"{name}.png"]
        assert image.startswith(b"\x89PNG\r\n\x1a\n")
        width, height = struct.unpack(">II", image[16:24])
        drawn = [float(side) for side in re.findall(r'(?:width|height)="([\d.]+)"', made[f"{name}.svg"].decode())[:2]]
        assert [width, height] == pytest.approx([PNG_SCALE * side for side in drawn], abs=2)
    assert struct.unpack(">I", made["trend.png"][16:20])[0] > PNG_SCALE * WIDTH


def test_where_nothing_is_drawn_there_is_no_picture():
    tables, _ = empty()
    assert pictures(draw(tables, {})) == {}
