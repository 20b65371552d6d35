"""A car's job sheet as PDF: one page of A4 in the largest letters that fit, two where it would take too small ones.

The only user of reportlab, whose flowables do the layout.  The letters come from the
DejaVu fonts, which hold Latin, Greek and Cyrillic; they travel with matplotlib.
"""

from __future__ import annotations

import importlib.util
import io
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from reportlab import rl_config
from reportlab.lib.colors import black
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    HRFlowable,
    KeepInFrame,
    KeepTogether,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
)
from reportlab.platypus.paragraph import cleanBlockQuotedText
from reportlab.platypus.paraparser import ParaFrag

from analysis.charts.job_page import BLANK_LINES, Job, Repairs, Try
from analysis.texts import job_sheet_text as say
from analysis.texts import names
from analysis.texts.formatter import Formatter

_PLAIN, _BOLD = "knockon", "knockon-bold"
_SIZES = (9.5, 9.0, 8.5, 8.0)
_SEVERAL = 9.0  # where it takes several pages
_EDGE = 12 * mm
_WIDTH = A4[0] - 2 * _EDGE
_HEIGHT = A4[1] - 2 * _EDGE
_SPARE = 12  # points by which the height may be taken for too much
_FOUND = 16 * mm
_ROW = 7 * mm
_LINE = 0.6
_UNIT = 1000
_MARKS = frozenset("&<>")
_LETTER = 0.58
"""Width of a letter, on average and with some room, as a share of the size."""
_CELL = 6.5
# Widths of the table to fill, in parts: what is written by hand in a column needs its room.
_PARTS = {"job": 0.7, "part": 1.6, "note": 1.6}


def job_pdf(job: Job, run: Mapping[str, Any], repairs: Repairs) -> bytes:
    """Return a job sheet as PDF.

    Args:
        job: The car's sheet.
        run: week, as_of and settings, as the report's page takes them.
        repairs: What the repairs file takes.

    Returns:
        One page of A4; what does not fit in the smallest letters goes on to further ones, in larger letters and each
        with the car's number.  No date or mark of the run is inside: the same input gives the same bytes.
    """
    _fonts()
    forms = _Forms(job, repairs)
    for size in _SIZES:
        blocks = _blocks(job, run, forms, size)
        if _height(blocks) <= _HEIGHT + _SPARE:
            sheet, pages = _laid_out(blocks, job.vehicle)
            if pages == 1:
                return sheet
    return _laid_out(_blocks(job, run, forms, _SEVERAL), job.vehicle)[0]


def _height(blocks: list[list[Flowable]]) -> float:
    """Return how high the blocks stand below each other: a tenth of the work of laying them out tells the size."""
    paper = Canvas(io.BytesIO(), A4)
    return sum(float(flowable.wrapOn(paper, _WIDTH, _HEIGHT)[1]) for block in blocks for flowable in block)


def _laid_out(blocks: list[list[Flowable]], vehicle: str) -> tuple[bytes, int]:
    """Return the document and its number of pages; what stands in one block stays together."""
    out = io.BytesIO()
    document = BaseDocTemplate(out, pagesize=A4, title=say.title(vehicle), invariant=1)
    frame = Frame(_EDGE, _EDGE, _WIDTH, _HEIGHT, *(0,) * 4)

    def marked(paper: Canvas, _: BaseDocTemplate) -> None:
        if paper.getPageNumber() > 1:
            paper.setFont(_BOLD, _CELL)
            paper.drawRightString(_EDGE + _WIDTH, _EDGE / 2, say.page_of(vehicle, paper.getPageNumber()))

    document.addPageTemplates(PageTemplate(frames=[frame], onPage=marked))
    document.build([block[0] if len(block) == 1 else KeepTogether(block) for block in blocks])
    return out.getvalue(), document.page


@cache
def _fonts() -> None:
    spec = importlib.util.find_spec("matplotlib")
    assert spec is not None
    assert spec.submodule_search_locations
    folder = Path(spec.submodule_search_locations[0]) / "mpl-data" / "fonts" / "ttf"
    pdfmetrics.registerFont(_Font(_PLAIN, str(folder / "DejaVuSans.ttf")))
    pdfmetrics.registerFont(_Font(_BOLD, str(folder / "DejaVuSans-Bold.ttf")))
    rl_config.useA85 = 0  # packed bytes stand in the file as they are, not spelled out in letters


class _Font(TTFont):  # type: ignore[misc]
    """A font that knows the words it has measured: each sheet is laid out in several sizes."""

    def __init__(self, name: str, path: str) -> None:
        super().__init__(name, path)
        self._measured: dict[str, float] = {}

    def stringWidth(self, text: str, size: float, encoding: str = "utf8") -> float:  # noqa: N802 - the library's name
        """Return how wide a text is in a size."""
        if text not in self._measured:
            self._measured[text] = super().stringWidth(text, _UNIT, encoding)
        return size / _UNIT * self._measured[text]


class _Forms:
    """What is filled in by hand on a sheet: it looks the same in every size of the letters."""

    def __init__(self, job: Job, repairs: Repairs) -> None:
        columns = repairs.to_fill
        self.head, self.frame = _blanks(job.blanks), _frame()
        self.done: list[Flowable] = [
            _text(say.DONE, 7, _BOLD),
            _text(say.done_words(repairs.actions), 7),
            Spacer(0, 2),
            _table(columns),
            Spacer(0, 2),
            _text(say.typed_back(job.vehicle, job.unit, columns), 7),
            _blanks(say.end_blanks(job.unit)),
            _blanks(say.SIGNED),
        ]


def _blocks(job: Job, run: Mapping[str, Any], forms: _Forms, size: float) -> list[list[Flowable]]:
    """Return what stands on the sheet, from top to bottom."""
    settings: Mapping[str, Any] = run.get("settings", {})
    week = say.car_and_week(job.car, run["week"], Formatter.of(settings).day(str(run["as_of"])))
    codes = []
    for code, status, reason in job.codes:
        told = [code.words, code.key, status, say.looked_past(reason) if reason else ""]
        codes.append(_text(", ".join(part for part in told if part), size, box=True))
    known = "\N{NO-BREAK SPACE}  ".join(f"{label} {text}" for label, text in job.known)
    alone = [
        _text(job.vehicle, size * 1.8, _BOLD),
        _text(week, size),
        *([_text(known, size)] if known else []),
        forms.head,
        *_heading(say.found_at(job.scanned), size),
        *(codes or [_text(say.NO_CODES, size)]),
        *([_text(say.OWN, size * 0.8)] if job.own else []),
        *([_text(job.left, size)] if job.left else []),
        *([_text(f"{say.STORED_ONLY} {job.stored}", size)] if job.stored else []),
        *_heading(say.BEFORE, size),
        _text(say.RECORD, size, box=True),
        *([_text(f"▲ {job.mind}", size, _BOLD)] if job.mind else []),
        _text(f"▲ {say.CARE}", size),
        *_heading(say.TRIES, size),
        *(_text(reason, size) for reason in job.why),
    ]
    after = [
        *_heading(say.FETCH, size),
        *([_text(part, size, box=True) for part in job.fetch] or [_text(say.NO_FETCH, size)]),
    ]
    return [
        *([flowable] for flowable in alone),
        *(_try(place, one, size) for place, one in enumerate(job.tries, 1)),
        *([flowable] for flowable in after),
        [*_heading(say.NOTES, size), Spacer(0, size), forms.frame],
        [Spacer(0, size), *forms.done],
    ]


def _try(place: int, one: Try, size: float) -> list[Flowable]:
    told = [one.facts, " ".join(one.before), one.caution and f"▲ {one.caution}", *one.warnings]
    return [
        _text(f"{place}. {one.title}", size, _BOLD),
        *(_text(text, size, inset=1.6) for text in told if text),
        *(_text(line, size, inset=1.6, box=True) for line in _lines_of(one.boxes, size)),
        *([_text(" ".join(one.then), size, inset=1.6)] if one.then else []),
    ]


def _lines_of(boxes: Sequence[str], size: float) -> list[str]:
    """Return the boxes, short ones together on a line as far as they fit, each but the first with its sign."""
    lines: list[str] = []
    for box in boxes:
        joined = f"{lines[-1]}   {say.BOX} {box}" if lines else ""
        if joined and len(joined) * size * _LETTER <= _WIDTH:
            lines[-1] = joined
        else:
            lines.append(box)
    return lines


def _text(text: str, size: float, font: str = _PLAIN, inset: float = 0.0, box: bool = False) -> Paragraph:
    """Return a text, set in by some letters; a box to tick stands before it."""
    style, bullet = _style(size, font, inset, box), say.BOX if box else None
    if _MARKS.intersection(text):
        return Paragraph(escape(text), style, bulletText=bullet)
    # A text without marks is one piece: to have it read as XML would take longer than to break it into lines.
    plain = cleanBlockQuotedText(text)
    return Paragraph(plain, style, bulletText=bullet, frags=[_piece(style).clone(text=plain)])


@cache
def _piece(style: ParagraphStyle) -> ParaFrag:
    """Return a piece of text as the library reads it in a style."""
    return Paragraph("a", style).frags[0]


@cache
def _style(size: float, font: str, inset: float, box: bool) -> ParagraphStyle:
    return ParagraphStyle(
        "text",
        fontName=font,
        fontSize=size,
        leading=size * 1.35,
        leftIndent=size * (inset + (1.9 if box else 0)),
        bulletIndent=size * inset,
        bulletFontName=_PLAIN,
        bulletFontSize=size * 1.2,
    )


def _heading(text: str, size: float) -> list[Flowable]:
    """Return a heading with a rule below it, which stands with what follows."""
    heading, rule = _text(text, size, _BOLD), HRFlowable("100%", _LINE, color=black, spaceBefore=0, spaceAfter=size / 4)
    heading.keepWithNext = rule.keepWithNext = True
    return [Spacer(0, size), heading, rule]


def _frame() -> Table:
    """Return the empty frame for what was found."""
    return Table([[""]], [_WIDTH], [_FOUND], style=[("BOX", (0, 0), (-1, -1), _LINE, black)])


def _blanks(labels: Sequence[str]) -> Table:
    """Return labels with a line to write on behind each."""
    style = [
        ("LINEBELOW", (0, 0), (-1, -1), _LINE, black),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
    ]
    return Table([[_text(label, _CELL) for label in labels]], [_WIDTH / len(labels)] * len(labels), _ROW, style=style)


def _table(columns: Sequence[str]) -> Table:
    """Return the table to fill by hand; its headings are words."""
    parts = [_PARTS.get(column, 1.0) for column in columns]
    widths = [_WIDTH * part / sum(parts) for part in parts]
    head = [_cell(names.REPAIRS[column], width) for column, width in zip(columns, widths, strict=True)]
    look = [
        ("GRID", (0, 0), (-1, -1), _LINE, black),
        ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
        ("LEFTPADDING", (0, 0), (-1, -1), 1.5),
        ("RIGHTPADDING", (0, 0), (-1, -1), 1.5),
        ("TOPPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    ]
    return Table([head, *[[""] * len(columns)] * BLANK_LINES], widths, _ROW, style=look)


def _cell(words: str, width: float) -> KeepInFrame:
    """Return a heading, in smaller letters where there is no room."""
    said = ParagraphStyle("cell", fontName=_BOLD, fontSize=_CELL, leading=_CELL * 1.2)
    return KeepInFrame(width - 3, _ROW - 2, [Paragraph(escape(words), said)], mode="shrink")
