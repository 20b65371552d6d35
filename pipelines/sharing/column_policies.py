"""The rows that go into a shared set: what the analysis needs, under other names, and nothing else.

Every column of every inbox layout is declared here with what becomes of it; one that is not declared cannot go out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Literal

import polars as pl

from pipelines.sharing.private_text import ELLIPSIS, PrivateText, tails
from pipelines.sharing.pseudonyms import Pseudonyms
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
        "check_misses": "kept", "check_false_alarms": "kept",
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
    "names struck out": "in knockon's spelling; an ellipsis stands for stock numbers, jobs, suppliers, people, file "
    "names, what private.txt names, mail and web addresses, phone numbers, plates, vehicle numbers, addresses and long "
    "numbers; of a part, module or make that lost something, a mark behind it keeps it apart from others",
    "day": "as it was, or moved with --shift-dates",
    "known words": "only what three cars have or the list of modifications knows",
    "fixed": "the same word in every row",
    "left out": "not in the set",
}
_MARK = 8  # signs of a mark
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
    # What was said to be fitted to a car stands there as if its stock list had it.
    "stock": """
        select stock.* replace (nullif(concat_ws(';', stock.modifications, own.modifications), '') as modifications)
        from raw.stock as stock
        left join spelling.vehicles as names on names.spelling = stock.vehicle
        left join (
            select vehicle, string_agg(distinct modification, ';' order by modification) as modifications
            from spelling.equipment group by vehicle
        ) as own on own.vehicle = names.vehicle
        order by stock.file_id, stock.row""",
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
        select background.* exclude (module, reason), modules.module, 'left alone' as reason
        from raw.background as background
        left join spelling.modules as modules on modules.spelling = background.module
        left join spelling.codes as codes on codes.spelling = background.code and codes.given_type = ''
        where codes.why is null
        order by background.file_id, background.row""",
}
_NAMES = """
select vehicle as name from raw.scans union select vehicle from raw.stock union select vehicle from raw.repairs
union select vehicle from raw.background
union select job from raw.repairs
union select plate from raw.stock
"""
_VINS = "select vin as name from raw.scans union select vin from raw.stock"
_SUPPLIERS = "select supplier as name from raw.repairs union select supplier from raw.parts"
_NOTES = "select note as name from raw.repairs union select reason from raw.background"
_FILES = """
select regexp_replace(split_part(name, '/', 2), '[.][^.]*$', '') as name from raw.files
"""
# Shorter ones are words like any other: "ok", "scans".
_SHORTEST_NOTE = 4
# What tells one thing from another: where something was struck out of these, a mark keeps two apart.
_KEYS = {"part", "also_called", "module", "make", "model"}
_SHIPPED = {
    "modules": ("module", "name", "also_called"),
    "modifications": ("keyword",),
    "generic_codes": ("description", "component", "system", "points_at"),
    "cautions": ("words",),
    "first_checks": ("words",),
}
_PLAIN_WORDS = """
select part as word from raw.parts union select module from spelling.modules where known
union select make from raw.stock union select model from raw.stock
"""


def shared_rows(
    warehouse: Warehouse,
    pseudonyms: Pseudonyms,
    finder: PrivateText,
    *,
    shift_dates: bool = False,
    fetch: tuple[str, ...] = tuple(_QUERIES),
) -> dict[str, pl.DataFrame]:
    """Return the rows of each layout as they go out.

    Args:
        warehouse: The database, its spellings normalised and ``staging.known_vins`` built.
        pseudonyms: Gives the other names.
        finder: Finds what must not go out in a text.
        shift_dates: Move all days of a car back by the same number of weeks, its own; what lies between them stays.
        fetch: The layouts wanted.

    Returns:
        One frame a layout, every column a String, the columns of the layout that go out in its order.  Rows are
        sorted by the other names, so that their order tells nothing either; rows of one car or part keep theirs.
    """
    names = dict(warehouse.query("select spelling, vehicle from spelling.vehicles").iter_rows())
    frames = {}
    for name in fetch:
        rows = warehouse.query(_QUERIES[name])
        if "vehicle" in rows.columns:
            rows = rows.with_columns(pl.col("vehicle").replace(names))
        if "module" in rows.columns:
            rows = rows.with_columns(pl.col("module").replace(_written_modules(warehouse, finder)))
        frames[name] = _treated(name, rows, pseudonyms, finder, shift_dates)
    return frames


def _written_modules(warehouse: Warehouse, finder: PrivateText) -> dict[str, str]:
    """Return the modules of no list, as they were written, whose one spelling has lost the signs of a mail or a number.

    What is left of them after striking is read back into one spelling like any other.
    """
    written = warehouse.query(
        "select module, min(spelling) as spelling from spelling.modules where not known group by module order by module"
    )
    counts = finder.counts.copy()
    found = {module: spelling for module, spelling in written.iter_rows() if ELLIPSIS in finder.struck(spelling)}
    finder.counts = counts  # they are struck again, and counted, where they go out
    return found


def private_text(warehouse: Warehouse, own: Iterable[str] = ()) -> PrivateText:
    """Return what finds the dealer's names in texts.

    Args:
        warehouse: The database, its spellings normalised.
        own: What the dealer's ``private.txt`` names.
    """

    def listed(query: str, shortest: int = 1) -> list[str]:
        return [name for name in warehouse.query(query)["name"].drop_nulls() if len(name) >= shortest]

    vins, suppliers, notes, own = listed(_VINS), listed(_SUPPLIERS), listed(_NOTES), list(own)
    texts = [*(note for note in notes if len(note) >= _SHORTEST_NOTE), *listed(_FILES, _SHORTEST_NOTE)]
    return PrivateText(
        [*listed(_NAMES), *vins, *tails(vins), *texts],
        warehouse.query(_PLAIN_WORDS)["word"].drop_nulls(),
        people=[*suppliers, *own],
        texts=notes,
        vocabulary=shipped_wordings(),
    )


def shipped_wordings() -> set[str]:
    """Return every wording of the lists that ship with the program."""
    return {
        wording.strip()
        for table, columns in _SHIPPED.items()
        for column in columns
        for cell in reference_table(table)[column].drop_nulls()
        for wording in (cell, *cell.split(";"), *cell.split(" / "))
        if wording.strip()
    }


def _treated(
    layout: str, rows: pl.DataFrame, pseudonyms: Pseudonyms, finder: PrivateText, shift_dates: bool
) -> pl.DataFrame:
    policies = POLICIES[layout]
    if shift_dates and "vehicle" in rows.columns:
        days = [name for name, policy in policies.items() if policy == "day"]
        rows = rows.with_columns(_moved(rows, name, pseudonyms) for name in days)
    going = [_column(rows, name, policy, pseudonyms, finder) for name, policy in policies.items()]
    frame = pl.DataFrame([column for column in going if column is not None])
    return frame.sort(frame.columns[0], nulls_last=True, maintain_order=True)


def _column(
    rows: pl.DataFrame, name: str, policy: Policy, pseudonyms: Pseudonyms, finder: PrivateText
) -> pl.Series | None:
    if policy == "left out":
        return None
    cells = rows[name]
    if policy == "names struck out":
        return _each(cells, _kept_apart(finder, pseudonyms) if name in _KEYS else finder.struck)
    if policy == "known words":
        known = _known_words(rows, name)
        return _each(cells, lambda text: finder.struck(known(text)))
    if policy != "other name":
        return cells
    if name == "job":
        keys = rows.select(pl.concat_str("vehicle", "job", separator="\x1f"))["vehicle"]
        return _each(keys, lambda key: pseudonyms.name("J", *key.split("\x1f"))).alias("job")
    return _each(cells, lambda text: pseudonyms.name(name[0].upper(), text))


def _kept_apart(finder: PrivateText, pseudonyms: Pseudonyms) -> Callable[[str], str]:
    """Return what strikes names out of what tells things apart, and sets a mark where it did."""

    def struck(text: str) -> str:
        left = finder.struck(text)
        return f"{left} {pseudonyms.name('N', text)[:_MARK]}" if ELLIPSIS in left else left

    return struck


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
