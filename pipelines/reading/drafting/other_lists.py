"""Which table is a printed text that holds no fault code: a stock list, a log of repairs, a price book, or scans?

Printed text is read as scans alone.  What is none of them is known before anything is asked of modules and
codes, and the answer says in which form it can be read.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.guessing import says_nothing
from pipelines.reading.drafting.job_cards import draft_job_cards
from pipelines.reading.drafting.words import ACTIONS, HEADINGS, MONEY, Modules, folded, known_in

NO_TABLE = "text.table"
"""The question that is asked of a text which is read in no way that is known here."""
_FEWEST = 3
_LABEL = re.compile(r"\s*([^\W\d_][^:=|]{0,30}?)\s*(?:[:=|]|\.{4,}|\s{3,})")
_A_CARS = ("make", "model", "model_year", "asking_price", "bought_on", "engine", "fuel", "gearbox")
_WORD = re.compile(r"[^\W\d_]+")


def ask_other_list(draft: Draft, lines: Sequence[str], is_module: Modules) -> bool:
    """Ask which table a text without any code is, where its words are those of another table than scans.

    Args:
        draft: Gets the questions.
        lines: The text.
        is_module: Whether a text names a module.

    Returns:
        Whether it is another table, so that nothing more is to be drafted from its lines.
    """
    if any(
        says_nothing(line) and is_module(re.split(r"[:.|]|\s{2,}|\s-\s", line.strip())[0].strip()) for line in lines
    ):
        return False  # scans of cars without faults
    guess = _guess(lines)
    if guess is None:
        return False
    table, why = guess
    chosen = draft.ask(
        "table", "Which table do the rows belong to?", table, why, ("scans", "stock", "repairs", "parts")
    )
    if chosen == "scans":
        return False
    if chosen == "repairs" and draft_job_cards(draft, lines, is_module):
        return True
    asks = f"In which other form can the program that wrote this give the list of {chosen}?"
    draft.ask(
        NO_TABLE,
        f"{asks} A table (csv, or a workbook) can be read.",
        None,
        "printed text is read as scans alone, and no table with a line of headings was found in it",
    )
    return True


def _guess(lines: Sequence[str]) -> tuple[str, str] | None:
    """Return the table whose words a text has, and why; None where it has those of none."""
    labels = [folded(match[1]) for line in lines if (match := _LABEL.match(line))]
    cars = [label for label in labels if any(label in HEADINGS["stock"][name] for name in _A_CARS)]
    if len({*cars}) >= _FEWEST:
        return "stock", f"it holds no fault code, and labels like {', '.join([*dict.fromkeys(cars)][:_FEWEST])}"
    work = [line for line in lines if any(known_in(ACTIONS, word) for word in _WORD.findall(line))]
    if len(work) >= _FEWEST:
        return "repairs", f"it holds no fault code, and lines of work like {work[0].strip()[:60]!r}"
    priced = [line for line in lines if MONEY.search(line) and re.search(r"\d", line)]
    if len(priced) >= max(_FEWEST, 0.5 * len(lines)):
        return "parts", f"it holds no fault code, and lines with prices like {priced[0].strip()[:60]!r}"
    return None
