"""What the report concluded about one car and code: families, rules, what parts did, and the lines of the list.

Each number is told with what it counts: is this car among the cars, which of its jobs among the jobs, and which rows
stand behind a price or a past visit.
"""

from __future__ import annotations

import polars as pl

from analysis.evidence.clusters import family_outcomes, single_part_jobs
from pipelines.batch.last_week import LastWeek
from pipelines.lineage.source_rows import Record, Rows, job_rows
from pipelines.report.sections import what
from pipelines.storage.warehouse import Warehouse

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


def families(last: LastWeek, vehicle: str, code: str) -> list[Record]:
    """Return the families that the code is in, and whether this car is among the cars counted there.

    Args:
        last: The last week.
        vehicle: The car.
        code: The code's key.
    """
    tables = last.tables
    cars = tables["family_cars"].filter(pl.col("vehicle") == vehicle)["family"].to_list()
    members, sizes = tables["members"], tables["families"].select("family", "vehicles")
    rows = members.filter(pl.col("code") == code).join(sizes, on="family")
    return [
        {"family": family, "role": role, "cars": vehicles, "this_car_counts": family in cars}
        for family, role, vehicles in rows.sort("family").select("family", "role", "vehicles").iter_rows()
    ]


def rules(last: LastWeek, vehicle: str, code: str) -> list[Record]:
    """Return the rules that name the code, and whether this car is among the cars that show all their codes at once."""
    facts = last.facts
    mine = facts["baskets"].filter(pl.col("vehicle") == vehicle).select("basket")
    held = facts["basket_codes"].join(mine, on="basket", how="semi").group_by("basket").agg("code")
    baskets = [set(codes) for codes in held["code"]]
    found = []
    for row in last.tables["rules"].iter_rows(named=True):
        named = {*row["antecedent"].split(";"), *row["consequent"].split(";")}
        if code in named:
            told = {name: row[name] for name in ("antecedent", "consequent", "verdict")}
            found.append(told | {"cars": row["vehicles"], "this_car_counts": any(named <= each for each in baskets)})
    return sorted(found, key=lambda fact: (fact["antecedent"], fact["consequent"]))


def part_results(last: LastWeek, vehicle: str, code: str) -> list[Record]:
    """Return the rows of ``part_results.csv`` that count a job of this car for a family of the code."""
    facts, members = last.facts, last.tables["members"]
    mine = members.filter(pl.col("code") == code).select("family").unique()
    ends = family_outcomes(facts["outcomes"], members).filter(pl.col("outcome").is_not_null())
    own = facts["jobs"].filter(pl.col("vehicle") == vehicle).select("job_id", "job")
    counted = (
        ends.join(mine, on="family", how="semi")
        .join(own, on="job_id")
        .join(single_part_jobs(facts["job_parts"]), on="job_id")
        .join(last.tables["part_results"].select("part", "family", "jobs", "cleared"), on=["part", "family"])
    )
    names = ("part", "family", "job", "outcome", "jobs", "cleared")
    return counted.select(names).sort("part", "family", "job").to_dicts()


def open_code(last: LastWeek, vehicle: str, code: str) -> Record | None:
    """Return the row of ``open_codes.csv``, or None where the code is not open on a car in stock."""
    row = last.facts["open_codes"].filter((pl.col("vehicle") == vehicle) & (pl.col("code") == code))
    for first, latest, status, reason in row.select("first_seen", "last_seen", "status", "background").iter_rows():
        return {
            "first_seen": f"{first:%Y-%m-%d}",
            "last_seen": f"{latest:%Y-%m-%d}",
            "status": status,
            "background": reason,
        }
    return None


def shortlist(last: LastWeek, warehouse: Warehouse, rows: Rows, vehicle: str, code: str) -> list[Record]:
    """Return the car's lines of the list that name the code, with the visits and prices they rest on.

    Args:
        last: The last week.
        warehouse: The open database.
        rows: Names the rows.
        vehicle: The car; one that is not in stock has no lines.
        code: The code's key.
    """
    listed = last.shortlist.filter(pl.col("vehicle") == vehicle).sort("rank")
    naming = [
        pl.col(name).fill_null("").str.split(";").list.contains(code).alias(name) for name in ("clears", "leaves")
    ]
    named = listed.filter(pl.any_horizontal(naming))
    if not named.height:
        return []
    visits = last.model.explain(vehicle, last.shortlist).visits
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
                "price": _price(last, warehouse, rows, row["part"]),
                "visits": [_visit(last, warehouse, rows, visit, row["clears"]) for visit in mine.iter_rows(named=True)],
            }
        )
    return found


def _visit(last: LastWeek, warehouse: Warehouse, rows: Rows, visit: Record, clears: str) -> Record:
    """Tell one past visit; it counts as the list counts it: by those of the line's codes whose end is known."""
    of_visit = (pl.col("vehicle") == visit["vehicle"]) & (pl.col("job") == visit["job"])
    asked = of_visit & pl.col("code").is_in(clears.split(";")) & pl.col("background").is_null()
    ends = dict(last.facts["outcomes"].filter(asked).sort("code").select("code", "outcome").iter_rows())
    known = set(ends.values()) & {"cleared", "recurred", "returned"}
    return {
        "vehicle": visit["vehicle"],
        "job": visit["job"],
        "done_at": f"{visit['done_at']:%Y-%m-%d}",
        "codes": ends,
        "counts_as": min(known, key=["returned", "recurred", "cleared"].index) if known else None,
        "km": visit["km"],
        "rows": job_rows(warehouse, rows, visit["vehicle"], visit["job"]),
    }


def _price(last: LastWeek, warehouse: Warehouse, rows: Rows, part: str | None) -> Record | None:
    known = last.facts["parts"].filter(pl.col("part") == (part or "")).select("part", "price_source").rows()
    if not known or known[0][1] is None:
        return None
    name, source = known[0]
    layout, query = ("parts", _PRICED) if source == "price book" else ("repairs", _FITTED)
    return {"from": source, "rows": rows.named(layout, warehouse.query(query, {"part": name}).rows())}
