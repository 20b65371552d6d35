"""How far to trust the list: what it would have said on past visits, held beside what became of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import polars as pl

from analysis.diagnosis.promises import ENOUGH, trust


@dataclass(frozen=True)
class Trust:
    """What the page says of it.

    Attributes:
        sentence: In plain words, with the counts.
        few: There are some visits, but too few to tell.
        check: The row of ``backtest.csv``; None where no visit could be checked.
        tenths: The rows of ``reliability.csv``.
    """

    sentence: str
    few: bool
    check: dict[str, Any] | None
    tenths: list[dict[str, Any]]


def trust_of(backtest: pl.DataFrame | None, reliability: pl.DataFrame | None) -> Trust | None:
    """Put the check on the past into words and rows.

    Args:
        backtest: The columns of ``backtest.csv``.
        reliability: The columns of ``reliability.csv``.

    Returns:
        What the page says; None where the past was not checked.
    """
    if backtest is None or reliability is None or backtest.is_empty():
        return None
    check = backtest.row(0, named=True)
    known = check if check["n"] else None
    return Trust(trust(backtest), 0 < check["n"] < ENOUGH, known, reliability.sort("tenth").to_dicts())
