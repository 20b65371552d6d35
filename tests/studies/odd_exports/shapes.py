"""The kinds of odd exports that the readers were built on; each draws one file and the rows that a right reading gives.

What a shape does not print is not expected of it: a module without codes is expected where
the shape prints it, a status where it has one.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from tests.studies.odd_exports import shapes_printed as printed
from tests.studies.odd_exports import shapes_tables as tables
from tests.studies.odd_exports import shapes_workbooks as workbooks
from tests.studies.odd_exports.export import Export

SHAPES: tuple[Callable[[random.Random], Export], ...] = (
    tables.wide_faults,
    tables.codes_in_cell,
    tables.one_column,
    printed.printed_blocks,
    printed.fixed_width,
    printed.html_table,
    printed.zipped,
    workbooks.workbook_merged,
    workbooks.workbook_serial,
    workbooks.workbook_sheets,
    printed.json_nested,
    printed.pdf,
    tables.own_dialect,
    tables.undecided_days,
    tables.odd_dates,
    tables.odd_numbers,
    tables.status_words,
    tables.decoys,
    tables.stock,
    tables.repairs,
    workbooks.parts,
)


def draw_exports(seed: int, count: int = 40) -> list[Export]:
    """Return ``count`` exports, the kinds in turn; odd dates and numbers more often than the tables beside scans."""
    shapes = [*SHAPES, *(shape for shape in SHAPES if shape not in (tables.stock, workbooks.parts))]
    return [shape(random.Random(f"{seed} {place} {shape.__name__}")) for place, shape in enumerate(shapes[:count])]
