"""What the reader of the report must know about this week's findings, in plain sentences."""

from __future__ import annotations

import polars as pl

from analysis.mining.condition import unequal
from analysis.mining.frames import MiningFrames
from analysis.mining.pairs import Verdicts
from analysis.texts import findings as say
from analysis.texts.formatter import Formatter

EXPLORATORY_BELOW = 150  # baskets
SHARE_BY_CHANCE = 0.1  # pairs listed in shuffled copies, against those really listed, from which a warning is due
MERGED_LINE = "other"


def notes_on(frames: MiningFrames, verdicts: Verdicts, unstable: list[str], checks: list[pl.DataFrame]) -> list[str]:
    """Say what was tested, what was left out and how far to trust it.

    Args:
        frames: The mining frames.
        verdicts: The verdicts on all pairs.
        unstable: Names of the families that did not return often enough when cars were redrawn.
        checks: The result of the shuffled copies; a second one where cars were then compared by their condition too.

    Returns:
        Plain sentences, most general first.
    """
    notes = [*_on_tests(frames, verdicts), *_on_chance(frames, verdicts, checks)]
    if unstable:
        notes.append(say.unstable(unstable))
    return notes


def artefact_notes(artefacts: pl.DataFrame, formatter: Formatter) -> list[str]:
    """Say which codes were left out, and that only days are watched so.

    Args:
        artefacts: Codes that a single day explains.
        formatter: How the dealer writes a day.
    """
    notes = [
        say.one_day(code, vehicles, scanned, formatter.day(day))
        for code, day, vehicles, scanned in artefacts.select("code", "day", "vehicles", "scanned").iter_rows()
    ]
    return [*notes, say.ONLY_DAYS] if notes else []


def _on_tests(frames: MiningFrames, verdicts: Verdicts) -> list[str]:
    cars = frames.baskets["vehicle"].n_unique()
    confirmed = int(verdicts.confirmed.sum())
    notes = [say.tested(verdicts.tests, cars, confirmed, len(verdicts.places) - confirmed)]
    if len(verdicts.places):
        notes.append(say.stricter(verdicts.at_worst, verdicts.stepwise))
    if frames.baskets.height < EXPLORATORY_BELOW:
        notes.append(say.exploratory(frames.baskets.height, EXPLORATORY_BELOW))
    merged = frames.baskets.filter(pl.col("line") == MERGED_LINE)["vehicle"].n_unique()
    if merged:
        notes.append(say.merged(merged, MERGED_LINE))
    return notes


def _on_chance(frames: MiningFrames, verdicts: Verdicts, checks: list[pl.DataFrame]) -> list[str]:
    notes = []
    if len(checks) > 1:
        notes.append(say.unequal_cars(_with_any(checks[0]), checks[0].height))
        if unequal(checks[-1]):
            notes.append(say.COPIES_TOO)
    check = checks[-1]
    listed = int(check["listed"].sum()) / check.height
    notes.append(say.by_chance(check.height, listed, _with_any(check)))
    if listed >= 1 and listed > SHARE_BY_CHANCE * len(verdicts.places):
        notes.append(say.MANY_BY_CHANCE)
    return notes


def _with_any(check: pl.DataFrame) -> int:
    return int((check["confirmed"] > 0).sum())
