"""The tables that hold what was read, as it was read, and how a row is known again.

A row is known by what its filled cells say, and by how often its file says it:
two equal coils of one job are two, and the same two in next week's file are the
same two.  A time counts as the moment it names, whatever the time zone in which it
is shown.  One row of a file can be several here, counted by ``nth``.
"""

# ruff: noqa: S608 - only names that the program itself declares are put into SQL text

from __future__ import annotations

from pipelines.reading.layouts import Layout, instants

# The latest row of these speaks for its key, so a row that says again what an older one said is news.
_STATE_KEYS = {"stock": "vehicle", "parts": "part"}
# Every row of these has a time, and rows that say the same have the same: older and younger ones need not be looked at.
_TIMES = {"scans": "scanned_at", "repairs": "done_at"}


def raw_table(layout: Layout) -> str:
    """Return the statements that make the raw table of a layout, or add the columns it lacks."""
    made = (
        f"create table if not exists raw.{layout.name} "
        "(file_id bigint not null, row bigint not null, content uhugeint not null, ordinal bigint not null);"
        f"alter table raw.{layout.name} add column if not exists nth bigint default 1;"
    )
    added = [
        f'alter table raw.{layout.name} add column if not exists "{column.name}" varchar;' for column in layout.kept
    ]
    return "\n".join([made, *added])


def arriving_rows(layout: Layout) -> str:
    """Return the statement that puts the frame ``incoming`` into ``arriving``, each row with its content's mark.

    ``incoming`` may hold the rows of several files, told apart by ``file_id``.  A blank cell adds nothing to the mark,
    so a layout may grow by a column without making old rows new.  A time that came with an offset is marked as it is
    in the zone of ``known_by``, the column ``known NAME`` of ``incoming``.
    """
    times = instants(layout)
    marked = [
        (column.name, f"known {column.name}" if column.name in times else column.name)
        for column in layout.kept
        if column.name not in times.values()
    ]
    said = ", ".join(f"""'{name}=' || "{place}\"""" for name, place in marked)
    # Few rows say what another one of their file says: only these are numbered, which spares a sort of all columns.
    return (
        "create or replace temp table arriving as with marked as materialized ("
        f"select file_id, row, nth, md5_number(concat_ws(chr(31), {said})) as content, {_listed(layout)} from incoming"
        "), again as (select file_id, content from marked group by all having count(*) > 1), numbered as ("
        "select file_id, row, nth, row_number() over (partition by file_id, content order by row, nth) as ordinal "
        "from marked semi join again using (file_id, content)) "
        "select marked.*, coalesce(ordinal, 1) as ordinal from marked left join numbered using (file_id, row, nth)"
    )


def insert_fresh(layout: Layout, several: bool = False) -> str:
    """Return the statement that moves the rows of ``arriving`` that are new into the raw table.

    Args:
        layout: The rows' table.
        several: The rows are of more than one file: what an earlier one of them says is not new in a later one.
    """
    state = layout.name in _STATE_KEYS
    fresh = _fresh_state_rows(layout.name) if state else _fresh_event_rows(layout.name, several)
    columns = f"file_id, row, nth, content, ordinal, {_listed(layout)}"
    return (
        f"insert into raw.{layout.name} ({columns}) select {columns} from ({fresh}) as fresh order by file_id, row, nth"
    )


def _listed(layout: Layout) -> str:
    return ", ".join(f'"{column.name}"' for column in layout.kept)


def _fresh_event_rows(layout: str, several: bool) -> str:
    kept, time = f"raw.{layout}", _TIMES.get(layout)
    if time is not None:
        # Where the time zone was changed, a kept row may be shown some hours off.
        first, last = (
            f"(select strftime({end}({time})::timestamp {off} interval 2 day, '%Y-%m-%d') from arriving)"
            for end, off in (("min", "-"), ("max", "+"))
        )
        kept = f"(select content, ordinal from raw.{layout} where {time} between {first} and {last})"
    once = " qualify row_number() over (partition by arriving.content, arriving.ordinal order by arriving.file_id) = 1"
    return (
        "select arriving.* from arriving "
        f"anti join {kept} as kept on kept.content = arriving.content and kept.ordinal = arriving.ordinal"
        f"{once if several else ''}"
    )


def _fresh_state_rows(layout: str) -> str:
    key = _STATE_KEYS[layout]
    return (
        f'select arriving.* from arriving left join (select "{key}" as state_key, content as content_now '
        f"from raw.{layout} qualify row_number() over (partition by state_key order by file_id desc, row desc) = 1) "
        f'as kept on kept.state_key = arriving."{key}" '
        f'qualify coalesce(lag(arriving.content) over (partition by arriving."{key}" '
        "order by arriving.file_id, arriving.row), content_now) is distinct from arriving.content"
    )


def affected_rows(layout: Layout) -> str:
    """Return the statement that notes in ``affected`` by what the rows of the files in ``undone`` are known."""
    return (
        f"create or replace temp table affected as select distinct {_known_by(layout)} "
        f"from raw.{layout.name} where file_id in (select file_id from undone)"
    )


def forget_affected(layout: Layout) -> str:
    """Return the statement that takes out the rows of ``undone``, and what later files said of the same keys."""
    later = (
        f" or (file_id > (select min(file_id) from undone) and {_is_affected(layout)})"
        if layout.name in _STATE_KEYS
        else ""
    )
    return f"delete from raw.{layout.name} where file_id in (select file_id from undone){later}"


def keep_affected(layout: Layout) -> str:
    """Return the statement that leaves only what ``affected`` names in ``arriving``."""
    return f"delete from arriving where not ({_is_affected(layout)})"


def strange_rows(layout: Layout) -> str:
    """Return the query that counts what a file that was taken in before says now and did not say then."""
    if layout.name in _STATE_KEYS:
        return (
            f"select count(*) from raw.{layout.name} as kept "
            "where file_id = (select max(file_id) from arriving) and not exists "
            "(select 1 from arriving where arriving.row = kept.row and arriving.content = kept.content)"
        )
    return (
        f"select count(*) from arriving where not ({_is_affected(layout)}) and not exists "
        f"(select 1 from raw.{layout.name} as kept "
        "where kept.content = arriving.content and kept.ordinal = arriving.ordinal)"
    )


def _known_by(layout: Layout) -> str:
    key = _STATE_KEYS.get(layout.name)
    return f'"{key}" as state_key' if key else "content, ordinal"


def _is_affected(layout: Layout) -> str:
    key = _STATE_KEYS.get(layout.name)
    if key:
        return f'"{key}" in (select state_key from affected)'
    return "(content, ordinal) in (select (content, ordinal) from affected)"


def says_it_all(layout: Layout) -> bool:
    """Tell whether a file that repeated nothing can have nothing to say after an undo: not so for the latest state."""
    return layout.name not in _STATE_KEYS
