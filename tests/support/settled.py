"""Outcomes written down as words, with the likelihoods that the cure model gives to what they say."""

from __future__ import annotations

import polars as pl

from analysis.evidence.cleared import fit_cure_model, settle

ROAD_TEST_KM = 40.0


def settled(outcomes: pl.DataFrame) -> pl.DataFrame:
    """Add likelihoods and ``awake`` (true unless told) to rows of outcome, km_proven, days_to_return and km_to_return.

    The words stay as they were written: ``cleared`` is taken for tested by a monitor, so that it is proven at any
    distance, and ``unproven`` for no distance known beyond the road test.
    """
    again = pl.col("outcome").is_in(["returned", "recurred"])
    short = pl.when(pl.col("outcome") == "unproven").then(pl.col("km_proven").clip(None, ROAD_TEST_KM / 4))
    seen_after = outcomes.select(
        "code", "background",
        looked=pl.col("outcome") != "unread",
        absent_km=short.otherwise(pl.col("km_proven")),
        tested=pl.col("outcome") == "cleared",
        seen=again,
        seen_km=pl.col("km_to_return"),
        seen_days=pl.col("days_to_return"),
        lost=pl.lit(False),
        kept=pl.lit(False),
        **dict.fromkeys(("lost_km", "lost_days", "lost_after_km"), pl.lit(None, dtype=pl.Float64)),
    )  # fmt: skip
    told = settle(seen_after, fit_cure_model(seen_after, ROAD_TEST_KM))
    awake = {} if "awake" in outcomes.columns else {"awake": pl.lit(True)}
    return outcomes.with_columns(told.select("lik_gone", "lik_still", "cleared_chance")).with_columns(**awake)
