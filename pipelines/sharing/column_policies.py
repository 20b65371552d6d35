"""The rows that go into a shared set: what the analysis needs, under other names, and nothing else.

Every column of every inbox layout is declared here with what becomes of it; one that is not declared cannot go out.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import polars as pl

from pipelines.sharing.pseudonyms import NameFinder, Pseudonyms
from pipelines.storage.sql_models import reference_table
from pipelines.storage.warehouse import Warehouse

Policy = Literal[
    "other name", "kept", "kept where read", "names struck out", "day", "left out", "known words", "fixed"
]  # fmt: skip

POLICIES: dict[str, dict[str, Policy]] = {
    "scans": {
        "vehicle": "other name", "vin": "left out", "scanned_at": "day", "odometer": "kept", "odometer_unit": "kept",
        "module": "names struck out", "module_state": "kept", "asked": "kept", "code": "kept where read",
        "failure_type": "kept",
        "status": "kept", "occurrences": "left out", "first_odometer": "kept", "text": "names struck out",
        "km_since_erase": "kept", "warmups_since_erase": "left out", "monitors_ready": "kept",
    },
    "stock": {
        "vehicle": "other name", "vin": "left out", "make": "names struck out", "model": "names struck out",
        "model_year": "left out", "engine": "left out", "fuel": "left out", "gearbox": "left out",
        "bought_on": "left out", "sold_on": "day", "asking_price": "left out", "modifications": "known words",
    },
    "repairs": {
        "vehicle": "other name", "job": "other name", "done_at": "day", "odometer": "kept", "odometer_unit": "kept",
        "action": "kept", "part": "names struck out", "position": "names struck out", "supplier": "other name",
        "part_cost": "kept", "labour_minutes": "kept", "note": "left out",
    },
    "parts": {
        "part": "names struck out", "also_called": "names struck out", "part_cost": "kept", "labour_minutes": "kept",
        "check_minutes": "kept", "supplier": "left out", "opening": "names struck out", "opening_minutes": "kept",
    },
    "background": {
        "vehicle": "other name", "make": "names struck out", "module": "names struck out", "code": "kept where read",
        "reason": "fixed", "until": "day",
    },
}  # fmt: skip
MEANINGS: dict[Policy, str] = {
    "other name": "a keyed hash in its place, the same in every set made with this key",
    "kept": "as it was",
    "kept where read": "as it was; what knockon could not read is called 'unreadable', as is what a list lost",
    "names struck out": "in knockon's spelling; stock numbers, jobs, suppliers and file names of four letters "
    "and digits or more in it became an ellipsis",
    "day": "as it was, or moved with --shift-dates",
    "known words": "only what three cars have or the list of modifications knows",
    "fixed": "the same word in every row",
    "left out": "not in the set",
}
_SHARED_BY = 3  # cars that must declare a modification before its words go out

_QUERIES = {
    # Of a list that was not read whole a row more, without a code that was read, stands for what was lost.
    "scans": """
        select coalesce(scans.vehicle, known.vehicle) as vehicle,
            scans.* exclude (vehicle, vin, module, code, failure_type, lost), modules.module,
            if(lost or codes.why is not null, 'unreadable', scans.code) as code,
            if(codes.why is null, scans.failure_type, null) as failure_type
        from (
            select *, false as lost from raw.scans
            union all by name
            select * replace (null as code, null as failure_type, null as status, null as text), true as lost
            from raw.scans where complete = 'false'
        ) as scans
        left join staging.known_vins as known on scans.vehicle is null and known.vin = upper(scans.vin)
        join spelling.modules as modules on modules.spelling = scans.module
        left join spelling.codes as codes
            on codes.spelling = scans.code and codes.given_type = coalesce(scans.failure_type, '')
        where coalesce(scans.vehicle, known.vehicle) is not null
        window list as (partition by file_id, scans.vehicle, scans.vin, scanned_at, scans.module, asked),
            kind as (partition by file_id, scans.vehicle, scans.vin, scanned_at, scans.module, asked, lost
                order by row, nth)
        qualify not lost or not bool_or(codes.why is not null) over list and row_number() over kind = 1
        order by scans.file_id, scans.row, nth, lost""",
    "stock": "select * from raw.stock order by file_id, row",
    "repairs": """
        select repairs.* exclude (part, position), parts.part, positions.position
        from raw.repairs as repairs
        left join spelling.parts as parts on parts.spelling = repairs.part
        left join spelling.positions as positions on positions.spelling = repairs.position
        order by repairs.file_id, repairs.row""",
    "parts": """
        select prices.* exclude (part), names.part from raw.parts as prices
        join spelling.parts as names on names.spelling = prices.part
        order by prices.file_id, prices.row""",
    "background": """
        select background.* exclude (module, reason), modules.module, 'looked past' as reason
        from raw.background as background
        left join spelling.modules as modules on modules.spelling = background.module
        left join spelling.codes as codes on codes.spelling = background.code and codes.given_type = ''
        where codes.why is null
        order by background.file_id, background.row""",
}
_NAMES = """
select vehicle as name from raw.scans union select vehicle from raw.stock union select vehicle from raw.repairs
union select vehicle from raw.background
union select vin from raw.scans union select vin from raw.stock
union select job from raw.repairs union select supplier from raw.repairs union select supplier from raw.parts
union select note from raw.repairs union select regexp_replace(split_part(name, '/', 2), '[.][^.]*$', '') from raw.files
"""
_PLAIN_WORDS = """
select part as word from raw.parts union select module from spelling.modules where known
union select make from raw.stock union select model from raw.stock
"""


def shared_rows(
    warehouse: Warehouse, pseudonyms: Pseudonyms, *, shift_dates: bool = False, fetch: tuple[str, ...] = tuple(_QUERIES)
) -> dict[str, pl.DataFrame]:
    """Return the rows of each layout as they go out.

    Args:
        warehouse: The database, its spellings normalised and ``staging.known_vins`` built.
        pseudonyms: Gives the other names.
        shift_dates: Move all days of a car back by the same number of weeks, its own; what lies between them stays.
        fetch: The layouts wanted.

    Returns:
        One frame a layout, every column a String, the columns of the layout that go out in its order.  Rows are
        sorted by the other names, so that their order tells nothing either; rows of one car or part keep theirs.
    """
    plain = warehouse.query(_PLAIN_WORDS)["word"].drop_nulls()
    finder = NameFinder(warehouse.query(_NAMES)["name"].drop_nulls(), plain)
    return {name: _treated(name, warehouse.query(_QUERIES[name]), pseudonyms, finder, shift_dates) for name in fetch}


def _treated(
    layout: str, rows: pl.DataFrame, pseudonyms: Pseudonyms, finder: NameFinder, shift_dates: bool
) -> pl.DataFrame:
    policies = POLICIES[layout]
    if shift_dates and "vehicle" in rows.columns:
        days = [name for name, policy in policies.items() if policy == "day"]
        rows = rows.with_columns(_moved(rows, name, pseudonyms) for name in days)
    going = [_column(rows, name, policy, pseudonyms, finder) for name, policy in policies.items()]
    frame = pl.DataFrame([column for column in going if column is not None])
    return frame.sort(frame.columns[0], nulls_last=True, maintain_order=True)


def _column(
    rows: pl.DataFrame, name: str, policy: Policy, pseudonyms: Pseudonyms, finder: NameFinder
) -> pl.Series | None:
    if policy == "left out":
        return None
    cells = rows[name]
    if policy == "names struck out":
        return _each(cells, finder.struck)
    if policy == "known words":
        return _each(cells, _known_words(rows, name))
    if policy != "other name":
        return cells
    if name == "job":
        keys = rows.select(pl.concat_str("vehicle", "job", separator="\x1f"))["vehicle"]
        return _each(keys, lambda key: pseudonyms.name("J", *key.split("\x1f"))).alias("job")
    return _each(cells, lambda text: pseudonyms.name(name[0].upper(), text))


def _each(cells: pl.Series, treat: Callable[[str], str]) -> pl.Series:
    """Treat each distinct text once; what is left blank is null."""
    distinct = cells.drop_nulls().unique().sort().to_list()
    treated = [treat(text) or None for text in distinct]
    new = pl.Series(treated, dtype=pl.String)
    return cells.replace_strict(pl.Series(distinct, dtype=pl.String), new, default=None, return_dtype=pl.String)


def _moved(rows: pl.DataFrame, name: str, pseudonyms: Pseudonyms) -> pl.Series:
    """Return days or times of each row's car, moved back by its weeks; a row without a car keeps its own."""
    cars = rows["vehicle"].drop_nulls().unique().sort().to_list()
    weeks = pl.Series([pseudonyms.weeks_back(car) for car in cars], dtype=pl.Int64)
    back = rows["vehicle"].replace_strict(pl.Series(cars, dtype=pl.String), weeks, default=0, return_dtype=pl.Int64)
    day = rows[name].str.slice(0, 10).str.to_date("%Y-%m-%d")
    moved = pl.DataFrame({"day": day, "back": back, "rest": rows[name].str.slice(10)})
    told = (pl.col("day") - pl.duration(weeks=pl.col("back"))).dt.strftime("%Y-%m-%d") + pl.col("rest")
    return moved.select(told.alias(name))[name]


def _known_words(rows: pl.DataFrame, name: str) -> Callable[[str], str]:
    """Return what keeps of a list of modifications only those that three cars have or that the shipped list knows."""
    each = rows.select("vehicle", pl.col(name).str.split(";").alias("one")).explode("one").drop_nulls()
    each = each.select("vehicle", pl.col("one").str.strip_chars().str.to_lowercase()).unique()
    common = set(each.group_by("one").len().filter(pl.col("len") >= _SHARED_BY)["one"])
    keywords = sorted(set(reference_table("modifications")["keyword"]))

    def kept(text: str) -> str:
        said = []
        for one in (part.strip().lower() for part in text.split(";")):
            said += [one] if one in common else [keyword for keyword in keywords if keyword in one]
        return ";".join(dict.fromkeys(said))

    return kept
