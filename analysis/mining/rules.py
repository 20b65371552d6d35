"""Rules in the form of the outgoing table: "cars with A also have B".

A pair that passed gives two rules, one each way; the test and the odds ratio are the
pair's, the confidence is the rule's own.  Counts come along with every share.
"""

from __future__ import annotations

import numpy as np
import polars as pl

from analysis.statistics import rule_measures
from analysis.statistics.intervals import wilson

RULE_SCHEMA = pl.Schema(
    {
        "antecedent": pl.String,
        "consequent": pl.String,
        "vehicles": pl.Int64,
        "support": pl.Float64,
        "confidence": pl.Float64,
        "confidence_low": pl.Float64,
        "confidence_high": pl.Float64,
        "lift": pl.Float64,
        "leverage": pl.Float64,
        "conviction": pl.Float64,
        "odds_ratio": pl.Float64,
        "odds_low": pl.Float64,
        "odds_high": pl.Float64,
        "p_value": pl.Float64,
        "q_value": pl.Float64,
        "verdict": pl.String,
    }
)


def pair_rules(pairs: pl.DataFrame) -> pl.DataFrame:
    """Return both rules of every listed pair.

    Args:
        pairs: The listed pairs of :func:`analysis.mining.pairs.describe_pairs`.

    Returns:
        One row per rule in the columns of ``rules.csv``, sorted by :func:`in_order`.
    """
    forth = pairs.rename({"code_a": "antecedent", "code_b": "consequent"})
    swap = {"code_b": "antecedent", "code_a": "consequent", "with_a": "with_b", "with_b": "with_a"}
    back = pairs.rename(swap).select(forth.columns)
    return in_order(with_measures(pl.concat([forth, back])))


def with_measures(rules: pl.DataFrame) -> pl.DataFrame:
    """Add the customary measures and the interval of the confidence to rules that carry their counts.

    Args:
        rules: One row per rule: antecedent, consequent, vehicles (both), with_a (antecedent),
            with_b (consequent), cars, odds_ratio, odds_low, odds_high, p_value, q_value, verdict.

    Returns:
        The same rows in the columns of ``rules.csv``.
    """
    both, a, b, cars = (rules[name].to_numpy() for name in ("vehicles", "with_a", "with_b", "cars"))
    ends = [wilson(int(k), int(n)) for k, n in zip(both, a, strict=True)]
    return rules.with_columns(
        support=np.divide(both, cars),
        confidence=rule_measures.confidence(both, a),
        confidence_low=pl.Series([low for low, _ in ends], dtype=pl.Float64),
        confidence_high=pl.Series([high for _, high in ends], dtype=pl.Float64),
        lift=rule_measures.lift(both, a, b, cars),
        leverage=rule_measures.leverage(both, a, b, cars),
        conviction=rule_measures.conviction(both, a, b, cars),
    ).select(RULE_SCHEMA.names())


def in_order(rules: pl.DataFrame) -> pl.DataFrame:
    """Sort rules: confirmed before likely, then by the lower end of the odds ratio, then by name."""
    return rules.cast(RULE_SCHEMA).sort(
        "verdict", "odds_low", "antecedent", "consequent", descending=[False, True, False, False]
    )
