-- One row per scan and code that the scan lists.
-- grain: scan_id, code
-- reads: staging.scan_rows, core.scans
-- columns:
--   scan_id bigint: number of the scan
--   vehicle varchar: stock number
--   scanned_at timestamp: start of the scan
--   module varchar: canonical name of the control unit
--   code varchar: code key
--   short varchar: the code without module and make
--   make varchar or blank: make that the code is scoped to; blank for standard codes
--   present boolean: it is recorded as a fault
--   tested boolean: no row says that the test has not run
--   only_permanent boolean: nothing but a permanent entry lists it
--   status varchar: the strongest status word; empty text where there is none
--   failure_type varchar or blank: failure type, two hex digits
--   first_odometer double km or blank: odometer when the code was first stored
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
