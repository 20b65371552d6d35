"""Each chart as a picture of its own, for a message or a wall: the bright colours of the page, on its paper."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

import vl_convert

from analysis.progress import each

WIDTH = 900  # pixels, for charts that else take the width of the page
PNG_SCALE = 1.5
# What XML cannot hold: an .svg with one of these in a part's name could not be opened.
_UNWRITABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")


def pictures(drawn: Mapping[str, Mapping[str, Any]]) -> dict[str, bytes]:
    """Draw the charts without a browser.

    Args:
        drawn: Vega-Lite specifications by name, as :func:`analysis.charts.page.draw` returns them.

    Returns:
        Content by file name: a .svg and a .png a chart; the same input gives the same bytes.
    """
    colours = _bright_colours()
    made: dict[str, bytes] = {}
    for name, spec in each(sorted(drawn.items())):
        alone = _alone(spec, colours)
        drawing = str(vl_convert.vegalite_to_svg(alone))
        made[f"{name}.svg"] = _numbered(drawing)
        made[f"{name}.png"] = bytes(vl_convert.svg_to_png(drawing, scale=PNG_SCALE))
    return made


def svg(spec: Mapping[str, Any]) -> bytes:
    """Draw one chart as SVG without a browser; the same chart gives the same bytes.

    Args:
        spec: Its Vega-Lite specification.
    """
    return _numbered(str(vl_convert.vegalite_to_svg(_alone(spec, _bright_colours()))))


def _numbered(drawing: str) -> bytes:
    """The engine numbers its clip paths through all it has drawn; here each picture counts from nought."""
    for place, mark in enumerate(dict.fromkeys(re.findall(r"clip\d+", drawing))):
        drawing = re.sub(rf"\b{mark}\b", f"part{place}", drawing)
    return drawing.encode()


def _alone(spec: Mapping[str, Any], colours: Mapping[str, str]) -> dict[str, Any]:
    """Return a specification that needs no page: real colours, a paper, a width, a font that is at hand."""
    text = json.dumps(spec, sort_keys=True)
    text = re.sub(r"var\(--([\w-]+)\)", lambda found: colours[found[1]], text)
    alone: dict[str, Any] = _writable(json.loads(text))
    if alone.get("width") == "container":
        alone["width"] = WIDTH
    alone["config"] = {**alone["config"], "background": colours["sheet"]}
    return {**alone, "padding": 16}


def _writable(value: Any) -> Any:
    if isinstance(value, str):
        return _UNWRITABLE.sub("\N{REPLACEMENT CHARACTER}", value)
    if isinstance(value, list):
        return [_writable(one) for one in value]
    if isinstance(value, dict):
        return {_writable(name): _writable(one) for name, one in value.items()}
    return value


def _bright_colours() -> dict[str, str]:
    """Read the page's bright colours from its style sheet, so that both are the same."""
    style = files("analysis.charts").joinpath("sheet/sheet.css").read_text(encoding="utf-8")
    bright = style[: style.index("@media")]
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", bright))
