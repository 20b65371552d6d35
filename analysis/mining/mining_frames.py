"""What the miner is given: the counted facts of the dealer's cars, as tables.

A basket is what was seen on one car between two visits to the workshop.  A module
that was not read in a basket says nothing about its codes, so the tables also say
which modules were read.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import polars as pl


@dataclass(frozen=True, kw_only=True)
class MiningFrames:
    """The tables the miner reads.

    Attributes:
        baskets: One row per basket.
        basket_codes: One row per basket and code that is not looked past.
        basket_modules: One row per basket and module that was read in it.
        codes: One row per code.
        job_parts: One row per visit, part and position.
        outcomes: One row per visit and code that was present before it.
    """

    baskets: Annotated[pl.DataFrame, "basket vehicle line started_at ended_at"]
    basket_codes: Annotated[pl.DataFrame, "basket code first_seen first_odometer"]
    basket_modules: Annotated[pl.DataFrame, "basket module"]
    codes: Annotated[pl.DataFrame, "code module text component points_at role_hint network vehicles"]
    job_parts: Annotated[pl.DataFrame, "job_id part"]
    outcomes: Annotated[pl.DataFrame, "job_id vehicle module code background outcome"]


@dataclass(frozen=True, kw_only=True)
class Findings:
    """What was found.

    Attributes:
        rules: One row per rule in the columns of ``rules.csv``, unrounded; ratios can be infinite; since is blank where
            the verdict is likely.
        families: One row per family: family, label, codes, root, knock_on, vehicles, strength, q_value,
            returns (share of resamples it came back in), modules, lines, first_seen, last_seen.
        members: One row per family and code: family, code, role (``root``, ``knock-on`` or ``member``).
        pairs: One row per listed pair, code_a < code_b, with its counts and tests.
        root_evidence: What speaks for one code of a family leading another.
        family_cars: One row per family and car that showed two of its codes in one basket.
        patterns: One row per family and closed set of its codes: family, codes, vehicles.
        null_check: One row per shuffled copy of the cars with the pairs that were listed there.
        artefacts: Codes left out because a single day explains them.
        looks: The looks at which verdicts were confirmed, this week's among them, as ``verdict_history`` has them.
        held: What stands confirmed now: antecedent, consequent, since.
        notes: Plain sentences for the report.
    """

    rules: pl.DataFrame
    looks: pl.DataFrame
    held: pl.DataFrame
    families: pl.DataFrame
    members: pl.DataFrame
    pairs: pl.DataFrame
    root_evidence: pl.DataFrame
    family_cars: pl.DataFrame
    patterns: pl.DataFrame
    null_check: pl.DataFrame
    artefacts: pl.DataFrame
    notes: list[str]
