"""Which codes belong together on the dealer's cars, and how sure can we be?

Most lists of "codes that go together" are chance, or the mix of models in the yard.
This room compares cars within their model line, counts every pair it looked at, and
lists only what survives; what survives is gathered into families, and for each family
the evidence on its root is weighed.  Where there is nothing to find, it finds nothing.

Frames in, frames out: no files, no database, no clock, no chance beyond fixed seeds.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis.mining.counts import car_counts, spells
from analysis.mining.families import families_of, family_graph
from analysis.mining.frames import MiningFrames
from analysis.mining.pairs import PAIR_SCHEMA, PairFindings, find_pairs
from analysis.mining.roots import EVIDENCE_SCHEMA
from analysis.mining.rules import RULE_SCHEMA, pair_rules
from analysis.mining.summaries import FAMILY_SCHEMA, MEMBER_SCHEMA, describe_families, name_families

__all__ = ["Findings", "MiningFrames", "mine"]
EXPLORATORY_BELOW = 150  # baskets


@dataclass(frozen=True)
class Findings:
    """What was found.

    Attributes:
        rules: One row per rule in the columns of ``rules.csv``, unrounded; ratios can be infinite.
        families: One row per family: family, label, codes, root, knock_on, vehicles, strength, q_value.
        members: One row per family and code: family, code, role (``root``, ``knock-on`` or ``member``).
        pairs: One row per listed pair with its counts, for charts and for the families.
        root_evidence: What speaks for one code of a family leading another.
        notes: Plain sentences for the report.
    """

    rules: pl.DataFrame
    families: pl.DataFrame
    members: pl.DataFrame
    pairs: pl.DataFrame
    root_evidence: pl.DataFrame
    notes: list[str]


def mine(frames: MiningFrames, *, min_vehicles: int, q_value: float) -> Findings:
    """Find the rules and families of codes.

    Args:
        frames: The counted facts.
        min_vehicles: Cars that must carry both codes of a listed pair.
        q_value: Accepted false share among the listed pairs, between 0 and 1.

    Returns:
        The findings; every table is empty, and a note says so, where there is no basket with two codes.

    Raises:
        ValueError: ``q_value`` is not strictly between 0 and 1, or ``min_vehicles`` is below 1.
    """
    if not 0 < q_value < 1:
        raise ValueError(f"q_value must lie strictly between 0 and 1; got {q_value}")
    if min_vehicles < 1:
        raise ValueError(f"min_vehicles must be at least 1; got {min_vehicles}")
    if frames.pair_counts.is_empty():
        return _nothing()
    arrays = spells(frames)
    found = find_pairs(car_counts(frames, arrays), min_vehicles, q_value)
    named = name_families(families_of(family_graph(found.pairs)), found.pairs, frames.codes)
    families, members, evidence = describe_families(named, frames, found.pairs, arrays)
    rules = pair_rules(found.pairs)
    return Findings(rules, families, members, found.pairs, evidence, _notes(frames, found))


def _nothing() -> Findings:
    return Findings(
        rules=pl.DataFrame(schema=RULE_SCHEMA),
        families=pl.DataFrame(schema=FAMILY_SCHEMA),
        members=pl.DataFrame(schema=MEMBER_SCHEMA),
        pairs=pl.DataFrame(schema=PAIR_SCHEMA),
        root_evidence=pl.DataFrame(schema=EVIDENCE_SCHEMA),
        notes=["No basket holds two codes: nothing to compare."],
    )


def _notes(frames: MiningFrames, found: PairFindings) -> list[str]:
    cars = frames.baskets["vehicle"].n_unique()
    notes = [
        f"{found.tests} pairs of codes were common enough to be tested on {cars} cars; {found.pairs.height} passed."
    ]
    if frames.baskets.height < EXPLORATORY_BELOW:
        notes.append(
            f"Only {frames.baskets.height} baskets: read the rules as exploratory until there are {EXPLORATORY_BELOW}."
        )
    merged = frames.baskets.filter(pl.col("line") == "other")["vehicle"].n_unique()
    if merged:
        notes.append(f"{merged} cars of model lines with fewer than 10 cars were compared as one line, 'other'.")
    return notes
