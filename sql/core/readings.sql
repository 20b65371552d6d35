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
--   whole boolean: a standing fault's code could not have been missed: complete, and active or stored asked for
--
-- A list is what one file says that the module was asked for and answered. complete is false where a line of every such
-- list was not understood: then nothing can be said of absent codes. asked holds the kinds of codes that the complete
-- lists together could have named: a code of any other kind is not known to be absent.
with lists as (
    select vehicle, scanned_at, module, file_id, asked, bool_and(complete) as complete, count(code) as codes
    from staging.scan_rows
    where not silent
    group by vehicle, scanned_at, module, file_id, asked
)
select
    scans.scan_id,
    scans.vehicle,
    scans.scanned_at,
    lists.module,
    bool_or(lists.complete) as complete,
    coalesce(list_sort(list_distinct(flatten(list(lists.asked) filter (where lists.complete)))), []) as asked,
    bool_or(lists.complete and list_has_any(lists.asked, ['active', 'stored'])) as whole
from lists
join core.scans as scans on scans.vehicle = lists.vehicle and scans.scanned_at = lists.scanned_at
group by scans.scan_id, scans.vehicle, scans.scanned_at, lists.module
