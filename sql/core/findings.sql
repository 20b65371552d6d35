-- One row per scan and code that the scan lists.
-- grain: scan_id, code
-- reads: staging.scan_rows, core.scans
--
-- One code may stand in several rows (stored and pending, or with two failure types): the strongest word counts.
-- present is false where the status byte says that the entry is no fault record; tested is false where it says
-- that the test has not run, which proves nothing either way.
select
    scans.scan_id,
    scans.vehicle,
    scans.scanned_at,
    rows.module,
    rows.code,
    any_value(rows.short) as short,
    any_value(rows.make) as make,
    bool_or(rows.present) as present,
    bool_and(coalesce(rows.tested, true)) as tested,
    bool_and(rows.status = 'permanent') as only_permanent,
    arg_max(rows.status, list_position(['', 'not tested', 'history', 'permanent', 'pending', 'confirmed', 'active'],
        rows.status)) as status,
    min(rows.failure_type) as failure_type,
    min(rows.first_odometer) as first_odometer
from staging.scan_rows as rows
join core.scans as scans on scans.vehicle = rows.vehicle and scans.scanned_at = rows.scanned_at
where rows.code is not null
group by scans.scan_id, scans.vehicle, scans.scanned_at, rows.module, rows.code
