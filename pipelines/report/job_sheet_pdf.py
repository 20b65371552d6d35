"""A car's job sheet as PDF: one page of A4, in the largest letters that fit.

The only user of reportlab.  The letters come from the DejaVu fonts, which hold
Latin, Greek and Cyrillic; they travel with matplotlib.
"""

from __future__ import annotations

import importlib.util
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from analysis.charts.job import Job
from analysis.charts.job_page import BLANK_LINES
from analysis.texts import job_sheet as say
from analysis.texts.formatter import Formatter

_PLAIN, _BOLD = "knockon", "knockon-bold"
_SIZES = (9.5, 8.5, 7.5, 6.5, 5.5)
_EDGE = 12 * mm
_WIDTH = A4[0] - 2 * _EDGE
_FOUND = 20 * mm
_ROW = 7 * mm
# Widths of the table to fill, in parts: what is written by hand in a column needs its room.
_PARTS = {"odometer_unit": 0.7, "job": 0.7, "part": 1.6, "note": 1.8}


@dataclass(frozen=True)
class _Line:
    """A line of text: its font, its size against the sheet's, how far it is set in, and what stands before it."""

    text: str
    font: str = _PLAIN
    size: float = 1.0
    inset: float = 0.0
    box: bool = False
    rule: bool = False


def job_pdf(job: Job, run: Mapping[str, Any], columns: Sequence[str]) -> bytes:
    """Return a job sheet as PDF.

    Args:
        job: The car's sheet.
        run: week, as_of and settings, as the report's page takes them.
        columns: Names of the columns of the repairs layout, in order.

    Returns:
        One page of A4; what does not fit in the smallest letters goes on to further ones.  No date or mark of the
        run is inside: the same input gives the same bytes.
    """
    _fonts()
    settings: Mapping[str, Any] = run.get("settings", {})
    lines = _lines(job, run, Formatter.of(settings))
    size = next((size for size in _SIZES if _height(lines, size) <= A4[1] - 2 * _EDGE), _SIZES[-1])
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=A4, invariant=1)
    canvas.setTitle(say.title(job.vehicle))
    filled = {"vehicle": job.vehicle, "odometer_unit": str(settings.get("odometer_unit", "km"))}
    top = _write(canvas, lines, size)
    _table(canvas, top, columns, filled)
    canvas.save()
    return out.getvalue()


@cache
def _fonts() -> None:
    spec = importlib.util.find_spec("matplotlib")
    assert spec is not None
    assert spec.submodule_search_locations
    folder = Path(spec.submodule_search_locations[0]) / "mpl-data" / "fonts" / "ttf"
    pdfmetrics.registerFont(TTFont(_PLAIN, str(folder / "DejaVuSans.ttf")))
    pdfmetrics.registerFont(TTFont(_BOLD, str(folder / "DejaVuSans-Bold.ttf")))


def _lines(job: Job, run: Mapping[str, Any], formatter: Formatter) -> list[_Line]:
    week = say.car_and_week(job.car, run["week"], formatter.day(str(run["as_of"])))
    lines = [_Line(job.vehicle, _BOLD, 1.8), _Line(week), _Line(say.FOUND, _BOLD, rule=True)]
    for code, status, reason in job.codes:
        told = [code.words, status, say.looked_past(reason) if reason else ""]
        lines.append(_Line("  ".join([code.key, ", ".join(part for part in told if part)]).strip()))
    lines += [_Line(say.BEFORE, _BOLD, rule=True), _Line(say.RECORD, box=True), _Line(f"▲ {say.CARE}")]
    lines.append(_Line(say.TRIES, _BOLD, rule=True))
    for place, one in enumerate(job.tries, 1):
        lines.append(_Line(f"{place}. {one.title}", _BOLD))
        told = [one.facts, one.caution and f"▲ {one.caution}", *one.warnings]
        lines += [_Line(text, inset=1.0) for text in told if text]
        lines += [_Line(box, inset=1.0, box=True) for box in one.boxes]
        if one.stop:
            lines.append(_Line(one.stop, inset=1.0))
    if job.more:
        lines.append(_Line(job.more))
    return [*lines, _Line(say.NOTES, _BOLD, rule=True)]


def _laid(line: _Line, size: float) -> tuple[list[str], float, float]:
    """Return the split text, its letters' size and how far from the edge it begins."""
    letters = size * line.size
    begins = size * (line.inset * 1.6 + (1.6 if line.box else 0))
    return simpleSplit(line.text, line.font, letters, _WIDTH - begins) or [""], letters, begins


def _height(lines: Sequence[_Line], size: float) -> float:
    text = sum(len(_laid(line, size)[0]) * size * line.size * 1.35 + (size if line.rule else 0) for line in lines)
    return float(text + _FOUND + size * 3 + _ROW * (BLANK_LINES + 1))


def _write(canvas: Canvas, lines: Sequence[_Line], size: float) -> float:
    """Write the lines and the empty frame for what was found; return where the next thing may begin."""
    y = _fresh(canvas, size, A4[1] - _EDGE, 0)
    for line in lines:
        texts, letters, begins = _laid(line, size)
        if line.rule:
            y -= size
            canvas.line(_EDGE, y - letters * 1.5, _EDGE + _WIDTH, y - letters * 1.5)
        for place, text in enumerate(texts):
            y = _fresh(canvas, size, y, letters * 1.35) - letters * 1.35
            canvas.setFont(line.font, letters)
            canvas.drawString(_EDGE + begins, y + letters * 0.2, text)
            if line.box and place == 0:
                canvas.rect(_EDGE + begins - size * 1.4, y + letters * 0.1, size * 0.85, size * 0.85)
    y = _fresh(canvas, size, y, _FOUND + size) - _FOUND - size
    canvas.rect(_EDGE, y, _WIDTH, _FOUND)
    return _fresh(canvas, size, y, _ROW * (BLANK_LINES + 1) + size * 2) - size * 2


def _fresh(canvas: Canvas, size: float, y: float, needed: float) -> float:
    """Begin a new page where ``needed`` points no longer fit; return where to write."""
    if y - needed < _EDGE - size:
        canvas.showPage()
        y = A4[1] - _EDGE
    canvas.setLineWidth(0.6)
    return y


def _table(canvas: Canvas, top: float, columns: Sequence[str], filled: Mapping[str, str]) -> None:
    parts = [_PARTS.get(column, 1.0) for column in columns]
    canvas.setFont(_BOLD, 7)
    canvas.drawString(_EDGE, top + 3, say.DONE)
    edges = [_EDGE + _WIDTH * sum(parts[:place]) / sum(parts) for place in range(len(parts) + 1)]
    canvas.grid(edges, [top - _ROW * row for row in range(BLANK_LINES + 2)])
    for place, column in enumerate(columns):
        room = edges[place + 1] - edges[place] - 3
        _fitted(canvas, column, (edges[place] + 1.5, top - _ROW + 3), room, _BOLD)
        for row in range(BLANK_LINES):
            at = (edges[place] + 1.5, top - _ROW * (row + 2) + 3)
            _fitted(canvas, filled.get(column, ""), at, room, _PLAIN)


def _fitted(canvas: Canvas, text: str, at: tuple[float, float], room: float, font: str) -> None:
    """Write a text in letters of 6 points, or smaller ones where there is no room."""
    width = pdfmetrics.stringWidth(text, font, 6)
    canvas.setFont(font, 6 if width <= room else 6 * room / width)
    canvas.drawString(*at, text)
