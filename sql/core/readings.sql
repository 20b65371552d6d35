-- One row per scan and module that answered.
-- grain: scan_id, module
-- reads: staging.scan_rows, core.scans, raw.files
-- columns:
--   scan_id bigint: number of the scan
--   vehicle varchar: stock number
--   scanned_at timestamp: start of the scan
--   module varchar: canonical name of the control unit
--   complete boolean: every line of some list of the module was understood
--   asked varchar[]: kinds of codes that the complete lists together could have named
--   gaps boolean: of some list neither it nor the same list of another file was understood wholly
--   whole boolean: a standing fault's code could not have been missed: complete, and active or stored asked for
--
-- A list is what one file says that the module was asked for and answered. complete is false where a line of every such
-- list was not understood: then nothing can be said of absent codes. asked holds the kinds of codes that the complete
-- lists together could have named: a code of any other kind is not known to be absent. A row that calls a whole car
-- clean is a list of each module that answered in an earlier scan of the car in a file read by the same mapping, which
-- one device wrote: of what another device reads it says nothing.
with ways as (
    select file_id, list_filter(notes, lambda note: note like 'read by %')[1] as way
    from raw.files
),
answered as (
    select rows.*, ways.way
    from staging.scan_rows as rows
    join ways on ways.file_id = rows.file_id
    where not rows.silent
),
clean_units as (
    select distinct clean.vehicle, clean.scanned_at, units.module, clean.file_id, clean.asked, clean.complete
    from answered as clean
    join answered as units
        on units.vehicle = clean.vehicle and units.way = clean.way and units.scanned_at < clean.scanned_at
    where clean.clean_car and not units.clean_car
),
lists as (
    select vehicle, scanned_at, module, file_id, asked, bool_and(complete) as complete
    from (
        select vehicle, scanned_at, module, file_id, asked, complete from answered
        union all
        select vehicle, scanned_at, module, file_id, asked, complete from clean_units
    )
    group by vehicle, scanned_at, module, file_id, asked
),
kinds as (
    select vehicle, scanned_at, module, asked, bool_or(complete) as complete
    from lists
    group by vehicle, scanned_at, module, asked
)
select
    scans.scan_id,
    scans.vehicle,
    scans.scanned_at,
    kinds.module,
    bool_or(kinds.complete) as complete,
    coalesce(list_sort(list_distinct(flatten(list(kinds.asked) filter (where kinds.complete)))), []) as asked,
    not bool_and(kinds.complete) as gaps,
    bool_or(kinds.complete and list_has_any(kinds.asked, ['active', 'stored'])) as whole
from kinds
join core.scans as scans on scans.vehicle = kinds.vehicle and scans.scanned_at = kinds.scanned_at
group by scans.scan_id, scans.vehicle, scans.scanned_at, kinds.module
