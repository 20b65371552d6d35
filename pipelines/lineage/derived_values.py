"""What the report concluded about one car and code: families, rules, what parts did, and the lines of the list.

Each number is told with what it counts: is this car among the cars, which of its jobs among the jobs, and which rows
stand behind a price or a past visit.
"""

from __future__ import annotations

import polars as pl

from analysis.evidence.clusters import family_outcomes, single_part_jobs
from pipelines.batch.one_vehicle import what
from pipelines.batch.steps import Batch
from pipelines.batch.thinking import model_of
from pipelines.lineage.source_rows import Facts, Rows, job_rows

_LISTED = (
    *("rank", "action", "part", "chance", "chance_low", "chance_high"),
    *("clears", "leaves", "jobs", "jobs_cleared", "basis"),
    *("part_cost", "labour_cost", "total_cost", "expected_cost"),
)
_PRICED = """
select prices.file_id, prices.row from raw.parts as prices
join spelling.parts as names on names.spelling = prices.part
where names.part = $part
qualify row_number() over (partition by names.part order by prices.file_id desc, prices.row desc) = 1
"""
_FITTED = """
select file_id, row from staging.repair_rows
where part = $part and part_cents is not null and action not in ('inspect', 'erase') order by file_id, row
"""


def families(batch: Batch, vehicle: str, code: str) -> list[Facts]:
    """Return the families that the code is in, and whether this car is among the cars counted there.

    Args:
        batch: The batch, thought through.
        vehicle: The car.
        code: The code's key.
    """
    assert batch.findings is not None
    found = batch.findings
    cars = found.family_cars.filter(pl.col("vehicle") == vehicle)["family"].to_list()
    rows = found.members.filter(pl.col("code") == code).join(found.families.select("family", "vehicles"), on="family")
    return [
        {"family": family, "role": role, "cars": vehicles, "this_car_counts": family in cars}
        for family, role, vehicles in rows.sort("family").select("family", "role", "vehicles").iter_rows()
    ]


def rules(batch: Batch, vehicle: str, code: str) -> list[Facts]:
    """Return the rules that name the code, and whether this car is among the cars that show all their codes at once."""
    assert batch.findings is not None
    frames = batch.frames
    mine = frames["baskets"].filter(pl.col("vehicle") == vehicle).select("basket")
    held = frames["basket_codes"].join(mine, on="basket", how="semi").group_by("basket").agg("code")
    baskets = [set(codes) for codes in held["code"]]
    found = []
    for row in batch.findings.rules.iter_rows(named=True):
        named = {*row["antecedent"].split(";"), *row["consequent"].split(";")}
        if code in named:
            told = {name: row[name] for name in ("antecedent", "consequent", "verdict")}
            found.append(told | {"cars": row["vehicles"], "this_car_counts": any(named <= each for each in baskets)})
    return sorted(found, key=lambda fact: (fact["antecedent"], fact["consequent"]))


def part_results(batch: Batch, vehicle: str, code: str) -> list[Facts]:
    """Return the rows of ``part_results.csv`` that count a job of this car for a family of the code."""
    assert batch.findings is not None
    assert batch.evidence is not None
    frames, members = batch.frames, batch.findings.members
    mine = members.filter(pl.col("code") == code).select("family").unique()
    ends = family_outcomes(frames["outcomes"], members).filter(pl.col("outcome").is_not_null())
    own = frames["jobs"].filter(pl.col("vehicle") == vehicle).select("job_id", "job")
    counted = (
        ends.join(mine, on="family", how="semi")
        .join(own, on="job_id")
        .join(single_part_jobs(frames["job_parts"]), on="job_id")
        .join(batch.evidence.part_results.select("part", "family", "jobs", "cleared"), on=["part", "family"])
    )
    names = ("part", "family", "job", "outcome", "jobs", "cleared")
    return counted.select(names).sort("part", "family", "job").to_dicts()


def open_code(batch: Batch, vehicle: str, code: str) -> Facts | None:
    """Return the row of ``open_codes.csv``, or None where the code is not open on a car in stock."""
    row = batch.frames["open_codes"].filter((pl.col("vehicle") == vehicle) & (pl.col("code") == code))
    for first, last, status, reason in row.select("first_seen", "last_seen", "status", "background").iter_rows():
        return {
            "first_seen": f"{first:%Y-%m-%d}",
            "last_seen": f"{last:%Y-%m-%d}",
            "status": status,
            "background": reason,
        }
    return None


def shortlist(batch: Batch, rows: Rows, vehicle: str, code: str) -> list[Facts]:
    """Return the car's lines of the list that name the code, with the visits and prices they rest on.

    Args:
        batch: The batch, thought through.
        rows: Names the rows.
        vehicle: The car; one that is not in stock has no lines.
        code: The code's key.
    """
    listed = batch.tables["shortlist"].filter(pl.col("vehicle") == vehicle).sort("rank")
    naming = [
        pl.col(name).fill_null("").str.split(";").list.contains(code).alias(name) for name in ("clears", "leaves")
    ]
    named = listed.filter(pl.any_horizontal(naming))
    if not named.height:
        return []
    visits = model_of(batch).explain(vehicle, batch.tables["shortlist"]).visits
    found = []
    for row in named.iter_rows(named=True):
        told = {name: row[name] for name in _LISTED}
        told |= {name: row[name] / 100 for name in _LISTED if name.endswith("_cost") and row[name] is not None}
        place = pl.col("position") == (row["position"] or "")
        mine = visits.filter((pl.col("part") == row["part"]) & place) if row["part"] else visits.clear()
        found.append(
            {
                "what": what(row["action"], row["part"] or "", row["position"] or "", row["or_else"] or ""),
                **told,
                "price": _price(batch, rows, row["part"]),
                "visits": [_visit(batch, rows, visit, row["clears"]) for visit in mine.iter_rows(named=True)],
            }
        )
    return found


def _visit(batch: Batch, rows: Rows, visit: Facts, clears: str) -> Facts:
    """Tell one past visit; it counts as the list counts it: by those of the line's codes whose end is known."""
    of_visit = (pl.col("vehicle") == visit["vehicle"]) & (pl.col("job") == visit["job"])
    asked = of_visit & pl.col("code").is_in(clears.split(";")) & pl.col("background").is_null()
    ends = dict(batch.frames["outcomes"].filter(asked).sort("code").select("code", "outcome").iter_rows())
    known = set(ends.values()) & {"cleared", "returned"}
    return {
        "vehicle": visit["vehicle"],
        "job": visit["job"],
        "done_at": f"{visit['done_at']:%Y-%m-%d}",
        "codes": ends,
        "counts_as": min(known, key=["returned", "cleared"].index) if known else None,
        "km": visit["km"],
        "rows": job_rows(batch.warehouse, rows, visit["vehicle"], visit["job"]),
    }


def _price(batch: Batch, rows: Rows, part: str | None) -> Facts | None:
    known = batch.frames["parts"].filter(pl.col("part") == (part or "")).select("part", "price_source").rows()
    if not known or known[0][1] is None:
        return None
    name, source = known[0]
    layout, query = ("parts", _PRICED) if source == "price book" else ("repairs", _FITTED)
    return {"from": source, "rows": rows.named(layout, batch.warehouse.query(query, {"part": name}).rows())}
