"""The versions of the database, and how an older one becomes the newest.

Version 1 is what the program began with; every later version is one step that
changes the one before it.  A step that was released is never edited: whoever
skipped some versions walks through all of them, in one transaction.
"""

from __future__ import annotations

VERSION = 5

SCHEMAS = ("raw", "reference", "spelling", "fitted", "staging", "core", "marts")

_FIRST = """
create sequence raw.file_ids;
create table raw.files (
    file_id bigint primary key, sha256 varchar not null, layout varchar not null, name varchar not null,
    week varchar not null, rows_read bigint not null, rows_loaded bigint not null, rows_refused bigint not null,
    rows_repeated bigint not null, refused varchar, notes varchar[] not null
);
create table raw.rejects (
    file_id bigint not null, row bigint, "column" varchar, value varchar, why varchar not null
);
"""

# 2: which run took a file in, and how long the file was; numbers of files are free to close up after an undo;
# and what is still to be done with files of the archive.  Files of before count as one run a week.
_SECOND = """
create table raw.files_now (
    file_id bigint not null, sha256 varchar not null, layout varchar not null, name varchar not null,
    week varchar not null, rows_read bigint not null, rows_loaded bigint not null, rows_refused bigint not null,
    rows_repeated bigint not null, refused varchar, notes varchar[] not null, bytes bigint, run varchar
);
insert into raw.files_now
    select file_id, sha256, layout, name, week, rows_read, rows_loaded, rows_refused, rows_repeated, refused, notes,
        null, if(refused is null, week || '.1', null)
    from raw.files;
drop table raw.files;
alter table raw.files_now rename to files;
drop sequence raw.file_ids;
create table raw.pending (
    place bigint not null, what varchar not null, layout varchar not null, sha256 varchar not null,
    name varchar not null, week varchar not null, run varchar, why varchar
);
create table raw.version (number bigint not null);
insert into raw.version values (2);
"""

# 3: what runs had learned, and which of them built the marts as they stand.
_THIRD = """
create table fitted.runs (
    number bigint not null, week varchar not null, as_of date not null, made_at timestamp not null,
    version varchar not null, last_file bigint not null
);
create table fitted.contents (
    run bigint not null, kind varchar not null, name varchar not null, sha256 varchar not null, content blob not null
);
create table fitted.marts_of (run bigint not null);
update raw.version set number = 3;
"""

# 4: in which zone a row's time marks it, and in which one times are shown; the zone of before is the one now set.
_FOURTH = """
create table raw.time_zone (known_by varchar not null, shown varchar not null);
update raw.version set number = 4;
"""

# 5: how long a file was that is to be read again and how many rows it brought; and which files were taken back, so that
# they can be told from those that were lost.
_FIFTH = """
alter table raw.pending add column bytes bigint;
alter table raw.pending add column rows bigint;
create table raw.undone (layout varchar not null, sha256 varchar not null, name varchar not null, run varchar);
update raw.version set number = 5;
"""

_STEPS = {1: _FIRST, 2: _SECOND, 3: _THIRD, 4: _FOURTH, 5: _FIFTH}


def schemas() -> str:
    """Return the statements that make the schemas that are missing."""
    return "".join(f"create schema if not exists {name};\n" for name in SCHEMAS)


def steps(held: int, wanted: int) -> str:
    """Return the statements that take a database from one version to a later one.

    Args:
        held: The version it has; 0 for an empty one.
        wanted: The version it shall have.
    """
    return "\n".join(_STEPS[number] for number in range(held + 1, wanted + 1))
