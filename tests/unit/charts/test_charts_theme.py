"""The look that all charts share: described once, drawn alike, faded alike, readable in light and in dark."""

from __future__ import annotations

import json
import re
from importlib.resources import files

import pytest
from jsonschema import Draft7Validator

from analysis.charts import theme
from tests.support.sample_charts import all_charts, draw_all, svg


def test_a_long_name_is_folded_behind_its_code_or_where_its_line_is_full():
    assert theme.folded("ECM:P0562 System voltage low") == "ECM:P0562 System voltage low"
    assert (
        theme.folded("ECM:P0685 Main relay, control circuit open")
        == f"ECM:P0685{theme.FOLD}Main relay, control circuit open"
    )
    long = theme.folded("ECM:P0128 Thermostat: coolant is below its regulating temperature")
    first, second = long.split(theme.FOLD)
    assert (first, second) == ("ECM:P0128 Thermostat: coolant is below", "its regulating temperature")
    assert len(first) <= theme.LINE


@pytest.mark.parametrize("name", ["map", "clusters", "costs", "trend", "trust", "ledger"])
def test_every_chart_is_described_once_and_its_marks_are_silent(name: str):
    spec = all_charts()[name]
    assert spec["description"].endswith((".", "here."))
    assert all(layer["mark"]["aria"] is False for layer in spec.get("layer", [spec]))
    assert "<path aria-" not in svg(spec)


@pytest.mark.parametrize("name", ["map", "clusters", "costs", "trend", "trust", "ledger"])
def test_every_chart_obeys_the_schema_of_vega_lite(name: str):
    # The schema that the makers of Vega-Lite publish, by an independent checker; altair brings both.
    schema = json.loads(files("altair.vegalite.v6").joinpath("schema/vega-lite-schema.json").read_text("utf-8"))
    # The shared look goes beyond it: it arranges legends by Vega's own settings.
    bare = {key: value for key, value in all_charts()[name].items() if key != "config"}
    checker = Draft7Validator(schema)
    assert checker.is_valid(bare)
    assert not checker.is_valid(bare | {"layer": [{"mark": "smudge"}], "mark": "smudge"})


@pytest.mark.slow
def test_the_same_tables_give_the_same_charts():
    assert draw_all() == all_charts()


@pytest.mark.parametrize("name", ["map", "clusters", "costs", "trend", "trust"])
def test_every_chart_has_marks(name: str):
    assert svg(all_charts()[name]).count("<path") > 10


@pytest.mark.parametrize("name", ["map", "clusters", "trend"])
def test_a_kept_family_keeps_its_strength_and_the_others_fade(name: str):
    spec = all_charts()[name]
    [other] = [[param for param in spec["params"] if param["name"] != "kept"]]
    assert {"name": "kept", "value": []} in spec["params"]
    kept = svg(spec | {"params": [{"name": "kept", "value": ["ABS:C0031"]}, *other]})
    plain = svg(spec)
    assert plain.count('opacity="0.1"') == 0
    faint, full = kept.count('opacity="0.1"'), plain.count("<path") + plain.count("<text")
    assert 0 < faint < full


def contrast(one: str, other: str) -> float:
    """Contrast of two colours. Source: W3C, Web Content Accessibility Guidelines 2.1, "relative luminance"."""

    def luminance(colour: str) -> float:
        shares = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
        red, green, blue = (s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_computed_as_published():
    # WCAG 2.1: black on white is 21:1, a colour on itself 1:1; #777777 on white is the well-known 4.48:1 that just
    # misses the limit of 4.5:1 (the last from memory).
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#336699", "#336699") == 1
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
def test_text_and_marks_stand_out_in_light_and_dark(scheme: int):
    # WCAG 2.1, 1.4.3 and 1.4.11: 4.5:1 for text; the marks' colours are used for text too.
    style = files("analysis.charts").joinpath("sheet/sheet.css").read_text(encoding="utf-8")
    colours = dict(re.findall(r"--([\w-]+): (#\w{6});", re.findall(r":root \{(.*?)\}", style, re.DOTALL)[scheme]))
    on = [(ink, "sheet") for ink in ("ink", "soft", "main", "other", "good")]
    on += [("ink", "tint"), ("soft", "tint"), ("ink", "warn-tint"), ("other", "warn-tint")]
    on += [(f"map-ink-{step}", f"map-{step}") for step in range(1, 6)]
    low = [(ink, ground) for ink, ground in on if contrast(colours[ink], colours[ground]) < 4.5]
    assert not low
