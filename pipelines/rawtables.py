"""The tables that hold what was read, as it was read, and how a row is known again.

A row is known by what its filled cells say, and by how often its file says it:
two equal coils of one job are two, and the same two in next week's file are the
same two.
"""

# ruff: noqa: S608 - only names that the program itself declares are put into SQL text

from __future__ import annotations

from pipelines.reading.layouts import Layout

# The latest row of these speaks for its key, so a row that says again what an older one said is news.
_STATE_KEYS = {"stock": "vehicle", "parts": "part"}

DEFINITIONS = """
create schema if not exists raw;
create schema if not exists reference;
create schema if not exists spelling;
create schema if not exists fitted;
create schema if not exists staging;
create schema if not exists core;
create schema if not exists marts;
create sequence if not exists raw.file_ids;
create table if not exists raw.files (
    file_id bigint primary key, sha256 varchar not null, layout varchar not null, name varchar not null,
    week varchar not null, rows_read bigint not null, rows_loaded bigint not null, rows_refused bigint not null,
    rows_repeated bigint not null, refused varchar, notes varchar[] not null
);
create table if not exists raw.rejects (
    file_id bigint not null, row bigint, "column" varchar, value varchar, why varchar not null
);
"""


def raw_table(layout: Layout) -> str:
    """Return the statements that make the raw table of a layout, or add the columns it lacks."""
    made = (
        f"create table if not exists raw.{layout.name} "
        "(file_id bigint not null, row bigint not null, content uhugeint not null, ordinal bigint not null);"
    )
    added = [
        f'alter table raw.{layout.name} add column if not exists "{column.name}" varchar;' for column in layout.columns
    ]
    return "\n".join([made, *added])


def arriving_rows(layout: Layout) -> str:
    """Return the statement that puts the frame ``incoming`` into ``arriving``, each row with its content's mark.

    A blank cell adds nothing to the mark, so a layout may grow by a column without making old rows new.
    """
    said = ", ".join(f"""'{column.name}=' || "{column.name}\"""" for column in layout.columns)
    return (
        "create or replace temp table arriving as "
        f"select $file_id::bigint as file_id, row, md5_number(concat_ws(chr(31), {said})) as content, "
        f"row_number() over (partition by content order by row) as ordinal, {_listed(layout)} from incoming"
    )


def insert_fresh(layout: Layout) -> str:
    """Return the statement that moves the rows of ``arriving`` that are new into the raw table."""
    fresh = _fresh_state_rows(layout.name) if layout.name in _STATE_KEYS else _fresh_event_rows(layout.name)
    columns = f"file_id, row, content, ordinal, {_listed(layout)}"
    return f"insert into raw.{layout.name} ({columns}) select {columns} from ({fresh}) as fresh order by row"


def _listed(layout: Layout) -> str:
    return ", ".join(f'"{column.name}"' for column in layout.columns)


def _fresh_event_rows(layout: str) -> str:
    return (
        "select arriving.* from arriving "
        f"anti join raw.{layout} as kept on kept.content = arriving.content and kept.ordinal = arriving.ordinal"
    )


def _fresh_state_rows(layout: str) -> str:
    key = _STATE_KEYS[layout]
    return (
        f'select arriving.* from arriving left join (select "{key}" as state_key, content as content_now '
        f"from raw.{layout} qualify row_number() over (partition by state_key order by file_id desc, row desc) = 1) "
        f'as kept on kept.state_key = arriving."{key}" '
        f'qualify coalesce(lag(arriving.content) over (partition by arriving."{key}" order by arriving.row), '
        "content_now) is distinct from arriving.content"
    )
