-- One row per job and module that was read before it: the last such reading.
-- grain: job_id, module
-- reads: core.job_windows, core.readings, core.scans
-- columns:
--   job_id bigint: number of the job, of the one that speaks where several share their scans
--   vehicle varchar: stock number
--   module varchar: canonical name of the control unit
--   scan_id bigint: the last scan before the job that read the module
--   odometer double km or blank: odometer at that scan
--   whole boolean: in some reading a code with a standing fault could not have been missed
select
    jobs.job_id,
    jobs.vehicle,
    readings.module,
    max_by(readings.scan_id, readings.scanned_at) as scan_id,
    max_by(scans.odometer, readings.scanned_at) as odometer,
    bool_or(readings.whole) as whole
from core.job_windows as jobs
join core.readings as readings
    on readings.vehicle = jobs.vehicle
    and readings.scanned_at > jobs.scans_from and readings.scanned_at <= jobs.parted_at
join core.scans as scans on scans.scan_id = readings.scan_id
where jobs.job_id = jobs.spoken_by
group by jobs.job_id, jobs.vehicle, readings.module
