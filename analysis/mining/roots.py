"""Which code of a family is the root, and which ones merely follow?

Four separate pieces of evidence are asked about each two codes A and B of a family:

* parts: a part that A's text names was fitted, nothing was done for B's module, and B stayed away;
* network: B only reports that A's module is silent or talks nonsense, and A is a fault of that module itself;
* order: on the cars that had both, A was stored first more often than luck allows;
* asymmetry: nearly every car with A has B, but not the other way round.

The first three name codes that nothing in the family stands above.  The last alone only
says that B is the commoner code, so it breaks ties and never decides.  Where the evidence is
level, missing or contradicts itself, the root is left undetermined.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.stats import binom

from analysis.mining.episode_arrays import HALF, Ints, car_numbers, run_starts
from analysis.mining.mining_frames import MiningFrames
from analysis.vocabulary.parts import part_key

Floats = npt.NDArray[np.float64]
PIECES = ("parts", "network", "order", "asymmetry")  # in falling weight
ORDER_LEVEL = 0.05  # two-sided binomial test over cars where the two codes came at different times
JOBS_TO_COUNT = 2  # cars on which the follower went with the leader's part; one can be a coincidence
LOPSIDED = 0.2  # imbalance ratio from which the two codes count as unequally common
COUNTED_SCHEMA = {"leader": pl.String(), "follower": pl.String(), "in_favour": pl.Int64(), "against": pl.Int64()}
EVIDENCE_SCHEMA = pl.Schema(
    {
        "family": pl.String,
        "piece": pl.String,
        "leader": pl.String,
        "follower": pl.String,
        "in_favour": pl.Int64,
        "against": pl.Int64,
        "p_value": pl.Float64,
        "imbalance": pl.Float64,
    }
)


def root_evidence(frames: MiningFrames, pairs: pl.DataFrame, members: pl.DataFrame) -> pl.DataFrame:
    """Gather what speaks for one code of a family leading another.

    Args:
        frames: The mining frames.
        pairs: The listed pairs with their counts.
        members: One row per family and code: family, code.

    Returns:
        One row per family, piece, leader and follower: in_favour and against (cars or jobs; null
        where the piece counts none), p_value (order only), imbalance (asymmetry only), sorted.
    """
    inside = members.rename({"code": "leader"}).join(members.rename({"code": "follower"}), on="family")
    inside = inside.filter(pl.col("leader") != pl.col("follower"))
    pieces = [
        _by_parts(frames, inside).with_columns(piece=pl.lit("parts")),
        _by_network(frames.codes, inside).with_columns(piece=pl.lit("network")),
        _by_order(frames, inside).with_columns(piece=pl.lit("order")),
        _by_asymmetry(pairs, inside).with_columns(piece=pl.lit("asymmetry")),
    ]
    table = pl.concat([pl.DataFrame(schema=EVIDENCE_SCHEMA), *pieces], how="diagonal")
    rank = pl.col("piece").replace_strict({piece: place for place, piece in enumerate(PIECES)}, return_dtype=pl.Int64)
    return table.select(EVIDENCE_SCHEMA.names()).sort("family", rank, "leader", "follower")


def find_root(codes: Iterable[str], evidence: pl.DataFrame) -> str | None:
    """Name the root of a family, or None where the evidence does not settle it.

    Args:
        codes: The family's codes.
        evidence: The rows of :func:`root_evidence` of this family.

    Returns:
        The one code that leads in every strong piece that speaks, follows in none, and stands above every
        other leader.  None when the pieces share no such code, or several are level.
    """
    strong = _strong(evidence)
    behind: dict[str, set[str]] = {}
    for _, leader, follower in strong:
        behind.setdefault(leader, set()).add(follower)
    choice = set(codes)
    for piece in {piece for piece, _, _ in strong}:
        leads = {leader for where, leader, _ in strong if where == piece}
        choice &= leads - {follower for where, _, follower in strong if where == piece}
    found = [code for code in sorted(choice & behind.keys()) if all(_stands_above(code, o, behind) for o in behind)]
    return found[0] if len(found) == 1 else None


def _stands_above(code: str, other: str, behind: dict[str, set[str]]) -> bool:
    """Tell whether another leader follows the code itself, or leads only a part of what the code leads."""
    return other == code or other in behind[code] or behind[other] - {code} < behind[code]


def followers(root: str, evidence: pl.DataFrame) -> list[str]:
    """Return the codes that a strong piece of evidence puts behind the root, sorted."""
    return sorted({follower for _, leader, follower in _strong(evidence) if leader == root})


def _strong(evidence: pl.DataFrame) -> list[tuple[str, str, str]]:
    """Return piece, leader and follower of each row of the pieces that can decide."""
    rows = evidence.select("piece", "leader", "follower").iter_rows()
    return [(piece, leader, follower) for piece, leader, follower in rows if piece != "asymmetry"]


def _by_parts(frames: MiningFrames, inside: pl.DataFrame) -> pl.DataFrame:
    work = frames.job_parts.select("job_id", "part").unique().join(_named_parts(frames), on="part", how="left")
    gone = frames.outcomes.filter(pl.col("outcome").is_in(["cleared", "recurred"]) & pl.col("background").is_null())
    gone = gone.select("job_id", "vehicle", "code", "module")
    helped = work.select("job_id", leader="code").drop_nulls().unique()
    both = helped.join(gone.select("job_id", leader="code"), on=["job_id", "leader"], how="semi")
    both = both.join(gone.rename({"code": "follower"}), on="job_id").filter(pl.col("leader") != pl.col("follower"))
    parts_for_leader = work.select("job_id", "part", leader="code").drop_nulls()
    other_work = both.join(work, on="job_id").join(parts_for_leader, on=["job_id", "part", "leader"], how="anti")
    meddled = other_work.filter(pl.col("code").is_null() | (pl.col("module_right") == pl.col("module")))
    alone = both.join(meddled, on=["job_id", "leader", "follower"], how="anti")
    counted = alone.group_by("leader", "follower").agg(pl.col("vehicle").n_unique().cast(pl.Int64).alias("in_favour"))
    table = _stronger(inside.join(counted, on=["leader", "follower"]))
    return table.filter((pl.col("in_favour") >= JOBS_TO_COUNT) & (pl.col("in_favour") > 2 * pl.col("against")))


def _named_parts(frames: MiningFrames) -> pl.DataFrame:
    """Return which part is named by which concrete code's wording or component: part, code, module."""
    parts = {part: _words(part) for part in sorted(set(frames.job_parts["part"].drop_nulls()))}
    rows = []
    for code, module, text, component in _concrete(frames.codes).iter_rows():
        said = _words(f"{text or ''} {component or ''}")
        rows += [(part, code, module) for part, words in parts.items() if words and words <= said]
    return pl.DataFrame(rows, schema={"part": pl.String, "code": pl.String, "module": pl.String}, orient="row")


def _concrete(codes: pl.DataFrame) -> pl.DataFrame:
    """Return the codes that can be a root: no report about another module, not known to follow others."""
    known_follower = pl.col("role_hint").eq_missing("knock-on")
    kept = codes.filter(~pl.col("network") & ~known_follower).sort("code")
    return kept.select("code", "module", "text", "component")


def _words(text: str) -> set[str]:
    return {part_key(word) for word in re.findall(r"\w+", text)}


def _by_network(codes: pl.DataFrame, inside: pl.DataFrame) -> pl.DataFrame:
    reports = codes.filter(pl.col("network") & pl.col("points_at").is_not_null())
    concrete = _concrete(codes).select(leader="code", points_at="module")
    told = reports.select("points_at", follower="code").join(concrete, on="points_at").select("leader", "follower")
    return inside.join(told, on=["leader", "follower"])


def _by_order(frames: MiningFrames, inside: pl.DataFrame) -> pl.DataFrame:
    codes = sorted(set(inside["leader"]))
    ends, cars, seen, km = _first_sights(frames, codes)
    cars_of = {code: slice(*ends[place : place + 2]) for place, code in enumerate(codes)}
    wanted = inside.filter(pl.col("leader") < pl.col("follower")).select("leader", "follower").unique()
    rows: list[tuple[str, str, int, int]] = []
    for leader, follower in wanted.iter_rows():
        a, b = cars_of[leader], cars_of[follower]
        place = np.searchsorted(cars[b], cars[a])
        both = np.flatnonzero(np.append(cars[b], -1)[place] == cars[a])
        driven, waited = (part[b][place[both]] - part[a][both] for part in (km, seen))
        gap = np.where(np.nan_to_num(driven) != 0, driven, waited)
        first, last = int((gap > 0).sum()), int((gap < 0).sum())
        rows += [(leader, follower, first, last), (follower, leader, last, first)]
    counted = pl.DataFrame(rows, schema=COUNTED_SCHEMA, orient="row")
    table = _stronger(inside.join(counted, on=["leader", "follower"]))
    won, lost = table["in_favour"].to_numpy(), table["against"].to_numpy()
    # Both tails of a fair coin; a leader has won more often than lost.
    tails = binom.cdf(lost, won + lost, 0.5) + binom.sf(won - 1, won + lost, 0.5)
    return table.with_columns(p_value=pl.Series(tails, dtype=pl.Float64)).filter(pl.col("p_value") <= ORDER_LEVEL)


def _first_sights(frames: MiningFrames, codes: list[str]) -> tuple[list[int], Ints, Ints, Floats]:
    """Return when each car first showed each code.

    Returns:
        Where the cars of each code begin, and where the last ones end; then, for each code and car, the car
        (a number), the first time (whole microseconds) and the least km (or nan).
    """
    rows = frames.basket_codes.with_columns(pl.col("code").cast(pl.Enum(codes), strict=False)).drop_nulls("code")
    cells = (rows["code"].to_physical().cast(pl.Int64).to_numpy() << HALF) | car_numbers(frames.baskets)[rows["basket"]]
    order = np.argsort(cells)
    cells = cells[order]
    firsts = np.flatnonzero(run_starts(cells))
    seen = np.minimum.reduceat(rows["first_seen"].dt.epoch("us").to_numpy()[order], firsts)
    km = np.fmin.reduceat(rows["first_odometer"].fill_null(np.nan).to_numpy()[order], firsts)
    ends = np.searchsorted(cells[firsts] >> HALF, np.arange(len(codes) + 1)).tolist()
    return ends, cells[firsts] & ((1 << HALF) - 1), seen, km


def _by_asymmetry(pairs: pl.DataFrame, inside: pl.DataFrame) -> pl.DataFrame:
    lopsided = pairs.filter(pl.col("imbalance") >= LOPSIDED)
    rarer = pl.col("with_a") < pl.col("with_b")
    told = lopsided.select(
        leader=pl.when(rarer).then("code_a").otherwise("code_b"),
        follower=pl.when(rarer).then("code_b").otherwise("code_a"),
        imbalance="imbalance",
    )
    return inside.join(told, on=["leader", "follower"])


def _stronger(table: pl.DataFrame) -> pl.DataFrame:
    """Keep, of two codes that each have something in favour, the direction that has more."""
    turned = table.select("family", leader="follower", follower="leader", against="in_favour")
    both = table.drop("against", strict=False).join(turned, on=["family", "leader", "follower"], how="left")
    both = both.with_columns(pl.col("against").fill_null(0))
    return both.filter(pl.col("in_favour") > pl.col("against"))
