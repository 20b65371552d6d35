"""A third set of fresh shapes: 40, written by one who had not seen the readers, committed, and only then run.

The first figure is the one that counts; what was mended after it is tuned on these shapes.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from tests.studies.odd_exports import third_packed as packed
from tests.studies.odd_exports import third_tables as tables
from tests.studies.odd_exports import third_texts as texts
from tests.studies.odd_exports.export import Export

SHAPES: tuple[Callable[[random.Random], Export], ...] = (
    tables.letterhead,
    tables.swedish,
    tables.separator_line,
    tables.split_code,
    tables.short_years,
    tables.american,
    tables.zoned,
    tables.compact_days,
    tables.ticked,
    tables.lettered,
    tables.twin_headings,
    tables.both_units,
    tables.other_days,
    tables.maker_codes,
    tables.crossed,
    tables.month_or_day,
    tables.stock_german,
    texts.report_german,
    texts.drawn_tree,
    texts.pairs_a_line,
    texts.bracketed,
    texts.quoted_mail,
    texts.dashes,
    texts.two_a_line,
    texts.ruled_columns,
    texts.plain_cells,
    texts.defined,
    texts.typewritten,
    texts.pdf_letters,
    packed.offset_sheet,
    packed.day_and_hour,
    packed.linked_sheets,
    packed.repairs_english,
    packed.open_document,
    packed.json_columns,
    packed.json_reports,
    packed.json_strings,
    packed.xml_fields,
    packed.zip_of_json,
    packed.zip_two_tables,
)


def draw_third(seed: int) -> list[Export]:
    """Return one export of each shape."""
    return [shape(random.Random(f"{seed} {shape.__name__}")) for shape in SHAPES]
