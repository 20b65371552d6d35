"""Builds the miner's frames from a few plain lists, the way the SQL models count them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import polars as pl

from analysis.mining import MiningFrames

START = datetime(2026, 1, 5, 8)


@dataclass(frozen=True)
class Basket:
    """One episode of one car: what was read and what was seen.

    ``codes`` maps each code to the minutes after the basket's start at which it was first seen.
    """

    vehicle: str
    line: str
    codes: dict[str, int] | Iterable[str]
    read: Iterable[str] = ()
    day: int = 0
    km: dict[str, float] = field(default_factory=dict)

    def seen(self) -> dict[str, int]:
        """Return the codes with their minutes."""
        return dict(self.codes) if isinstance(self.codes, dict) else dict.fromkeys(self.codes, 0)


def mining_frames(
    baskets: list[Basket],
    codes: list[dict[str, object]] | None = None,
    job_parts: list[dict[str, object]] | None = None,
    outcomes: list[dict[str, object]] | None = None,
) -> MiningFrames:
    """Return the frames; a basket reads the modules of its codes and those in ``read``."""
    started = [START + timedelta(days=basket.day) for basket in baskets]
    table = pl.DataFrame(
        {
            "basket": range(1, len(baskets) + 1),
            "vehicle": [basket.vehicle for basket in baskets],
            "line": [basket.line for basket in baskets],
            "started_at": started,
            "ended_at": [at + timedelta(days=1) for at in started],
        },
        schema={
            "basket": pl.Int64,
            "vehicle": pl.String,
            "line": pl.String,
            "started_at": pl.Datetime,
            "ended_at": pl.Datetime,
        },
    )
    held = [
        (place, code, at + timedelta(minutes=minutes), basket.km.get(code))
        for place, (basket, at) in enumerate(zip(baskets, started, strict=True), start=1)
        for code, minutes in sorted(basket.seen().items())
    ]
    basket_codes = pl.DataFrame(
        held,
        schema={"basket": pl.Int64, "code": pl.String, "first_seen": pl.Datetime, "first_odometer": pl.Float64},
        orient="row",
    )
    reads = [
        (place, module)
        for place, basket in enumerate(baskets, start=1)
        for module in sorted({*basket.read, *(code.split(":")[0] for code in basket.seen())})
    ]
    basket_modules = pl.DataFrame(reads, schema={"basket": pl.Int64, "module": pl.String}, orient="row")
    return MiningFrames(
        baskets=table,
        basket_codes=basket_codes,
        basket_modules=basket_modules,
        codes=code_table(sorted(set(basket_codes["code"])), codes or []),
        job_parts=_frame(job_parts, ["job_id", "part", "position", "action"]),
        outcomes=_frame(outcomes, ["job_id", "vehicle", "module", "code", "background", "outcome"]),
    )


def code_table(keys: list[str], known: list[dict[str, object]]) -> pl.DataFrame:
    """Return the frame of codes: module and short from the key, the rest as given or null."""
    given = {str(row["code"]): row for row in known}
    rows = []
    for key in keys:
        module, rest = key.split(":")
        short, _, make = rest.partition("@")
        row = {"code": key, "module": module, "short": short, "make": make or None, "network": short.startswith("U")}
        rows.append(row | given.get(key, {}))
    text = ["code", "module", "short", "make", "text", "component", "points_at", "role_hint"]
    return pl.DataFrame(rows, schema=dict.fromkeys(text, pl.String) | {"network": pl.Boolean, "vehicles": pl.Int64})


def _frame(rows: list[dict[str, object]] | None, columns: list[str]) -> pl.DataFrame:
    types = {"job_id": pl.Int64}
    return pl.DataFrame(rows or [], schema={name: types.get(name, pl.String) for name in columns})
