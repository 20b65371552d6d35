"""What the reader of the report must know about this week's findings, in plain sentences."""

from __future__ import annotations

import polars as pl

from analysis.mining.condition import unequal
from analysis.mining.frames import MiningFrames
from analysis.mining.pairs import Verdicts
from analysis.texts.manner import Manner
from analysis.texts.words import counted

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
        notes.append(f"Left out, as they hang on too few cars: the families around {', '.join(unstable)}.")
    return notes


def artefact_notes(artefacts: pl.DataFrame, manner: Manner) -> list[str]:
    """Say which codes were left out, and that only days are watched so.

    Args:
        artefacts: Codes that a single day explains.
        manner: How the dealer writes a day.
    """
    notes = [
        f"{code} was first seen on {vehicles} of the {scanned} cars scanned on {manner.day(day)}: "
        "taken as a matter of that day, not of the cars, and left out."
        for code, day, vehicles, scanned in artefacts.select("code", "day", "vehicles", "scanned").iter_rows()
    ]
    return [*notes, "Only days are watched so: a scan does not say which reader took it."] if notes else []


def _on_tests(frames: MiningFrames, verdicts: Verdicts) -> list[str]:
    cars = frames.baskets["vehicle"].n_unique()
    confirmed = int(verdicts.confirmed.sum())
    notes = [
        f"{verdicts.tests} pairs of codes were common enough to be tested on {cars} cars; "
        f"{confirmed} are confirmed and {len(verdicts.places) - confirmed} likely."
    ]
    if len(verdicts.places):
        notes.append(
            f"With stricter corrections, which hold however pairs depend on each other, {verdicts.at_worst} of these "
            f"would be listed (Benjamini-Yekutieli) and {verdicts.stepwise} confirmed (Holm)."
        )
    if frames.baskets.height < EXPLORATORY_BELOW:
        notes.append(
            f"There are only {frames.baskets.height} baskets: take the rules as exploratory "
            f"until there are {EXPLORATORY_BELOW}."
        )
    merged = frames.baskets.filter(pl.col("line") == MERGED_LINE)["vehicle"].n_unique()
    if merged:
        notes.append(f"{merged} cars of model lines with few cars were compared as one line, '{MERGED_LINE}'.")
    return notes


def _on_chance(frames: MiningFrames, verdicts: Verdicts, checks: list[pl.DataFrame]) -> list[str]:
    notes = []
    if len(checks) > 1:
        notes.append(
            "Some cars are so much worse than others that codes meet on them without belonging together: "
            f"{_with_any(checks[0])} of {checks[0].height} shuffled copies of the cars showed a confirmed pair. "
            "So cars were compared only with cars of their line that carry about as many codes; "
            "weak true pairs can be missed."
        )
        if unequal(checks[-1]):
            notes.append(
                "Even so, copies showed confirmed pairs. So only pairs more striking than any in the copies are listed."
            )
    check = checks[-1]
    listed = int(check["listed"].sum()) / check.height
    notes.append(
        f"In {check.height} shuffled copies of these cars, where nothing belongs together, {listed:.1f} pairs "
        f"were listed on average, and {counted(_with_any(check), 'copy', 'copies')} showed a confirmed one."
    )
    if listed >= 1 and listed > SHARE_BY_CHANCE * len(verdicts.places):
        notes.append("That is many: take this week's rules with care.")
    return notes


def _with_any(check: pl.DataFrame) -> int:
    return int((check["confirmed"] > 0).sum())
