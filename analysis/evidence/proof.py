"""How far must a car be driven after an erase before a missing code means something?

Where a code has come back often enough, its own returns tell; until then the
dealer's setting holds.  A wild fit is kept within bounds that a road test and a
week of driving set.
"""

import polars as pl

from analysis.evidence.returns import RETURNS_NEEDED, return_distances

SHORTEST_KM, LONGEST_KM = 15.0, 250.0


def proof_distances(outcomes: pl.DataFrame | None) -> pl.DataFrame:
    """Return the distance that proves a code absent, for each code whose returns were seen often enough.

    Args:
        outcomes: The frame ``marts.outcomes``; None before there is one.

    Returns:
        One row per code with at least 8 returns of known distance: code, proof_km (2.3 times the fitted
        return distance, so that nine of ten returns would have shown, within 15 to 250 km), sorted by code.

    Source:
        1 - exp(-2.3) = .90, the share of an exponential distance that lies within 2.3 times its mean.
    """
    if outcomes is None:
        return pl.DataFrame(schema={"code": pl.String, "proof_km": pl.Float64})
    _, fitted = return_distances(outcomes)
    proof = (2.3 * pl.col("tau_km")).clip(SHORTEST_KM, LONGEST_KM).alias("proof_km")
    return fitted.filter(pl.col("returns") >= RETURNS_NEEDED).select("code", proof).sort("code")
