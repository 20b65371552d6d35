"""Fresh shapes: written all at once without a look at how the readers cope, committed, and only then run.

The first figure is the one that counts; what was mended after it is tuned on these shapes.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from tests.studies.odd_exports import fresh_tables as tables
from tests.studies.odd_exports import fresh_texts as texts
from tests.studies.odd_exports.export import Export

SHAPES: tuple[Callable[[random.Random], Export], ...] = (
    tables.wide_pairs,
    tables.wide_named,
    tables.wide_status,
    tables.long_items,
    tables.polish,
    tables.spanish,
    tables.italian,
    tables.dutch,
    tables.month_names,
    tables.hex_addresses,
    tables.code_and_text,
    tables.code_text_state,
    tables.codes_with_texts,
    tables.totals,
    tables.car_above,
    tables.car_in_name,
    tables.grouped,
    tables.epoch_miles,
    tables.vin_only,
    tables.serial_csv,
    tables.merged_down,
    tables.sheet_a_module,
    tables.sheet_with_head,
    tables.merged_modules,
    tables.formula_book,
    tables.stock_french,
    tables.repairs_french,
    texts.html_info,
    texts.html_scans,
    texts.html_lists,
    texts.indented,
    texts.dotted,
    texts.paged,
    texts.pdf_blocks,
    texts.pdf_miles,
    texts.code_first,
    texts.headless,
    texts.log_lines,
    texts.json_keyed,
    texts.json_flat,
    texts.zip_named,
    texts.zip_pages,
    texts.xml_tree,
)


def draw_fresh(seed: int) -> list[Export]:
    """Return one export of each shape."""
    return [shape(random.Random(f"{seed} {shape.__name__}")) for shape in SHAPES]
