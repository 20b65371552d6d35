-- One row per scan and module that answered.
-- grain: scan_id, module
-- reads: staging.scan_rows, core.scans
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
-- lists together could have named: a code of any other kind is not known to be absent.
with lists as (
    select vehicle, scanned_at, module, file_id, asked, bool_and(complete) as complete
    from staging.scan_rows
    where not silent
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
