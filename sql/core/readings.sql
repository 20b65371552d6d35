-- One row per scan and module that answered.
-- grain: scan_id, module
-- reads: staging.scan_rows, core.scans
-- columns:
--   scan_id bigint: number of the scan
--   vehicle varchar: stock number
--   scanned_at timestamp: start of the scan
--   module varchar: canonical name of the control unit
--   complete boolean: every row of the module could be read
--
-- complete is false where a row of this module could not be read: then nothing can be said of absent codes.
select
    scans.scan_id,
    scans.vehicle,
    scans.scanned_at,
    rows.module,
    bool_and(rows.refused is null) as complete
from staging.scan_rows as rows
join core.scans as scans on scans.vehicle = rows.vehicle and scans.scanned_at = rows.scanned_at
where not rows.silent
group by scans.scan_id, scans.vehicle, scans.scanned_at, rows.module
