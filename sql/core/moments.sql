-- One row per scan or job of a vehicle, with its odometer and the place in the files that names it.
-- grain: vehicle, happened_at, kind, job
-- reads: staging.scan_rows, core.jobs, staging.repair_rows, raw.files
-- columns:
--   vehicle varchar: stock number
--   happened_at timestamp: when it counts as having happened
--   kind varchar: scan or job
--   job varchar: job number; empty text for a scan
--   written_at timestamp: when, as the file says
--   odometer double km or blank: odometer
--   place varchar: file and row that name it
--
-- A job that is known by its day only stands behind the scans that came before it.
select
    moments.vehicle,
    moments.happened_at,
    moments.kind,
    moments.job,
    moments.written_at,
    moments.odometer,
    files.name || ' row ' || moments.place.row as place
from (
    select vehicle, scanned_at as happened_at, 'scan' as kind, '' as job, scanned_at as written_at, max(odometer) as odometer,
        min({'file_id': file_id, 'row': row}) as place
    from staging.scan_rows
    group by vehicle, scanned_at
    union all
    select jobs.vehicle, jobs.parted_at, 'job', jobs.job, jobs.done_at, jobs.odometer,
        min({'file_id': rows.file_id, 'row': rows.row})
    from core.jobs as jobs
    join staging.repair_rows as rows on rows.vehicle = jobs.vehicle and rows.job = jobs.job
    group by jobs.vehicle, jobs.parted_at, jobs.job, jobs.done_at, jobs.odometer
) as moments
join raw.files as files on files.file_id = moments.place.file_id
