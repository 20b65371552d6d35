"""Reads a page as a browser does, and draws the sample's: for every test that looks at what a page shows."""

from __future__ import annotations

import json
from functools import cache
from html.parser import HTMLParser
from typing import Any

from analysis.charts import draw, page
from pipelines.report.job_sheet import job_sheets
from tests.support.sample_report import empty, sample


class Reader(HTMLParser):
    """Reads a page the way a browser does: tags, attributes, shown text, script texts."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.shown = ""
        self.scripts: list[tuple[str | None, str]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs
        if tag == "script":
            self.scripts.append((dict(attrs).get("type"), ""))

    def handle_data(self, data: str) -> None:
        if self.lasttag == "script" and self.cdata_elem == "script":
            self.scripts[-1] = (self.scripts[-1][0], self.scripts[-1][1] + data)
        elif self.cdata_elem is None:
            self.shown += data


@cache
def drawn(kind: str = "sample") -> str:
    """A page, drawn once for all tests that look at it."""
    return page(*{"sample": sample, "empty": empty}[kind]())


@cache
def charts() -> dict[str, dict[str, Any]]:
    """The sample's charts, for pages whose tables are changed where no chart shows it: drawing is most of a page."""
    tables, run = sample()
    return draw(tables, run["settings"])  # type: ignore[arg-type]


@cache
def sheets() -> dict[str, bytes]:
    """The sample's job sheets."""
    return job_sheets(*sample())


def charts_of(text: str) -> dict[str, dict[str, object]]:
    """The specifications inside the page, their data as rows again."""
    found: dict[str, Any] = json.loads(next(body for kind, body in Reader(text).scripts if kind == "application/json"))[
        "specs"
    ]
    for spec in found.values():
        spec["datasets"] = {
            name: [dict(zip(packed["heads"], row, strict=True)) for row in packed["rows"]]
            for name, packed in spec["datasets"].items()
        }
    return found
