"""How far to trust the list: what it would have said on past visits, held beside what became of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import polars as pl

from analysis.diagnosis.evaluation.metrics import ENOUGH, trust, unknown_cause
from analysis.texts.findings import FIRST_CHOICE
from analysis.texts.words import large


@dataclass(frozen=True)
class Trust:
    """What the page says of it.

    Attributes:
        sentence: In plain words, with the counts.
        few: There are some visits, but too few to tell.
        check: The row of ``backtest.csv``; None where no visit could be checked.
        tenths: The rows of ``reliability.csv``.
        rivals: How the list did against plain rules, a sentence each.
        kept_back: How much of each chance is kept back, and why; empty text where it is not known.
        said: Every sentence of these as the notes hold it.
    """

    sentence: str
    few: bool
    check: dict[str, Any] | None
    tenths: list[dict[str, Any]]
    rivals: list[str]
    kept_back: str
    said: list[str]


def trust_of(
    backtest: pl.DataFrame | None, reliability: pl.DataFrame | None, notes: Sequence[str] = ()
) -> Trust | None:
    """Put the check on the past into words and rows.

    Args:
        backtest: The columns of ``backtest.csv``.
        reliability: The columns of ``reliability.csv``.
        notes: The notes of the run: those on the first choice belong here.

    Returns:
        What the page says; None where the past was not checked.
    """
    if backtest is None or reliability is None or backtest.is_empty():
        return None
    check = backtest.row(0, named=True)
    known = check if check["n"] else None
    sentence, share = trust(backtest), check["reserve"]
    kept = "" if share is None else unknown_cause(share, check["judged"])
    compared = [note for note in notes if note.startswith(FIRST_CHOICE)]
    rivals = [large(note.removeprefix(FIRST_CHOICE)) for note in compared]
    tenths = reliability.sort("tenth").to_dicts()
    return Trust(sentence, 0 < check["n"] < ENOUGH, known, tenths, rivals, kept, [sentence, kept, *compared])
