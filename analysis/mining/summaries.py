"""The families as tables: name, wording, root, followers, cars.

A family is named by its strongest concrete code, the one most tightly tied to the
rest and not a mere report about another module, so that the name stays when another family
comes or goes.
"""

from __future__ import annotations

import polars as pl

from analysis.mining.frames import MiningFrames
from analysis.mining.roots import find_root, followers, root_evidence

FAMILY_SCHEMA = pl.Schema(
    {
        "family": pl.String(),
        "label": pl.String(),
        "codes": pl.List(pl.String),
        "root": pl.String(),
        "knock_on": pl.List(pl.String),
        "vehicles": pl.Int64(),
        "strength": pl.Float64(),
        "q_value": pl.Float64(),
        "returns": pl.Float64(),
        "modules": pl.List(pl.String),
        "lines": pl.List(pl.String),
        "first_seen": pl.Date(),
        "last_seen": pl.Date(),
    }
)
MEMBER_SCHEMA = pl.Schema({"family": pl.String, "code": pl.String, "role": pl.String})


def name_families(families: list[list[str]], pairs: pl.DataFrame, codes: pl.DataFrame) -> dict[str, list[str]]:
    """Name each family by its strongest concrete code.

    Args:
        families: The families as sorted lists of codes.
        pairs: The listed pairs: code_a, code_b, phi.
        codes: The frame of codes: code, network.

    Returns:
        Name to codes.  When two families share their strongest code, the one more tightly tied to it
        keeps it and the other takes its next.
    """
    network = set(codes.filter(pl.col("network"))["code"])
    ranked = []
    for family in families:
        inside = pairs.filter(pl.col("code_a").is_in(family) & pl.col("code_b").is_in(family))
        pull = dict.fromkeys(family, 0.0)
        for code_a, code_b, phi in inside.select("code_a", "code_b", "phi").iter_rows():
            pull[code_a] += phi
            pull[code_b] += phi
        order = sorted(family, key=lambda code: (code in network, -pull[code], code))
        ranked.append((-pull[order[0]], family, order))
    named: dict[str, list[str]] = {}
    for _, family, order in sorted(ranked):
        named[next((code for code in order if code not in named), "+".join(family))] = family
    return dict(sorted(named.items()))


def describe_families(
    named: dict[str, list[str]],
    frames: MiningFrames,
    pairs: pl.DataFrame,
    cars: pl.DataFrame,
    returns: dict[str, float | None],
) -> tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame]:
    """Describe the families.

    Args:
        named: Family name to sorted codes.
        frames: The mining frames.
        pairs: The listed pairs.
        cars: One row per family and car that showed two or more of its codes in one basket.
        returns: Share of resamples in which each family returned.

    Returns:
        ``(families, members, evidence)``: one row per family (``FAMILY_SCHEMA``; vehicles: its rows in
        ``cars``; strength: the mean over its pairs of the mean of both confidences; q_value: the
        largest of its pairs), one row per family and code with its role (``root``, ``knock-on``,
        ``member``), and the evidence on the roots.
    """
    pieces = [(family, code) for family, codes in named.items() for code in codes]
    plain = pl.DataFrame(pieces, schema={"family": pl.String, "code": pl.String}, orient="row")
    evidence = root_evidence(frames, pairs, plain)
    texts = dict(frames.codes.select("code", "text").iter_rows())
    rows, roles = [], []
    for family, codes in named.items():
        own = evidence.filter(pl.col("family") == family)
        root = find_root(codes, own)
        behind = followers(root, own) if root else []
        inside = pairs.filter(pl.col("code_a").is_in(codes) & pl.col("code_b").is_in(codes))
        label = texts.get(root or family) or texts.get(family) or family
        tight = (inside["kulczynski"].mean(), inside["q_value"].max(), returns[family])
        shown = cars.filter(pl.col("family") == family)
        where = (sorted({code.split(":")[0] for code in codes}), sorted(shown["line"].unique()))
        when = (shown["first_seen"].min(), shown["last_seen"].max())
        rows.append((family, label, codes, root, behind, shown.height, *tight, *where, *when))
        roles += [(family, code, _role(code, root, behind)) for code in codes]
    return (
        pl.DataFrame(rows, schema=FAMILY_SCHEMA, orient="row"),
        pl.DataFrame(roles, schema=MEMBER_SCHEMA, orient="row"),
        evidence,
    )


def _role(code: str, root: str | None, behind: list[str]) -> str:
    if code == root:
        return "root"
    return "knock-on" if code in behind else "member"
