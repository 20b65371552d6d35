"""The families as tables: name, wording, root, followers, cars.

A family is named by its strongest concrete code, the one most tightly tied to the
rest and not a mere report about another module, so that the name stays when another family
comes or goes.
"""

from __future__ import annotations

from itertools import combinations

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
    ties = {(code_a, code_b): phi for code_a, code_b, phi in pairs.select("code_a", "code_b", "phi").iter_rows()}
    ranked = []
    for family in families:
        pull = dict.fromkeys(family, 0.0)
        for link in combinations(sorted(family), 2):
            for code in link:
                pull[code] += ties.get(link, 0.0)
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
    returns: dict[str, float],
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
    own_evidence, own_cars, own_pairs = (_by_family(table, named) for table in (evidence, cars, _inside(pairs, plain)))
    rows, roles = [], []
    for family, codes in named.items():
        own, shown, inside = own_evidence[family], own_cars[family], own_pairs[family]
        root = find_root(codes, own)
        behind = followers(root, own) if root else []
        label = texts.get(root or family) or texts.get(family) or family
        tight = (inside["kulczynski"].mean(), inside["q_value"].max(), returns[family])
        where = (sorted({code.split(":")[0] for code in codes}), sorted(shown["line"].unique()))
        when = (shown["first_seen"].min(), shown["last_seen"].max())
        rows.append((family, label, codes, root, behind, shown.height, *tight, *where, *when))
        roles += [(family, code, _role(code, root, behind)) for code in codes]
    return (
        pl.DataFrame(rows, schema=FAMILY_SCHEMA, orient="row"),
        pl.DataFrame(roles, schema=MEMBER_SCHEMA, orient="row"),
        evidence,
    )


def _inside(pairs: pl.DataFrame, plain: pl.DataFrame) -> pl.DataFrame:
    """Return the pairs inside each family, with its name, in the order of the pairs."""
    one = plain.rename({"code": "code_a"})
    joined = pairs.with_row_index("place").join(one, on="code_a")
    return joined.join(plain.rename({"code": "code_b"}), on=["family", "code_b"]).sort("place", "family")


def _by_family(table: pl.DataFrame, named: dict[str, list[str]]) -> dict[str, pl.DataFrame]:
    """Cut a table with a column of families into one table for each family."""
    parts = {str(family): part for (family,), part in table.partition_by("family", as_dict=True).items()}
    return {family: parts.get(family, table.clear()) for family in named}


def _role(code: str, root: str | None, behind: list[str]) -> str:
    if code == root:
        return "root"
    return "knock-on" if code in behind else "member"
