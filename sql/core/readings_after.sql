-- One row per job, module and scan that read the module after the job, with the km driven since.
-- grain: job_id, module, scan_id
-- reads: core.job_windows, core.readings, core.scans, core.readings_before
-- columns:
--   job_id bigint: number of the job, of the one that speaks where several share their scans
--   module varchar: canonical name of the control unit
--   scan_id bigint: number of the scan
--   scanned_at timestamp: start of the scan
--   days double days: days since the job, the last of them
--   asked varchar[]: kinds of codes that the complete lists together could have named
--   gaps boolean: a list of the module was not understood wholly
--   monitors_ready boolean or blank: every readiness monitor that the car has is complete
--   erased boolean: codes were erased at the job or after it
--   erased_last boolean: and none of the jobs worked on the car after a drive since that erase
--   km double km or blank: shortest distance driven since the last erase, where there was none since the job
--   job_km double km or blank: shortest distance driven since job and erase
--
-- km is the shorter of what the car says since its last erase and what the odometers say since the job: the distance
-- that proves something. erased is true where the job's rows say so or the car's own counter began after the job. The
-- two distances differ only where several jobs share their scans and one worked on the car a drive after the erase.
with driven as (
    select
        jobs.job_id,
        jobs.parted_at,
        jobs.erased,
        jobs.erased_last,
        readings.module,
        readings.scan_id,
        readings.scanned_at,
        readings.asked,
        readings.gaps,
        scans.monitors_ready,
        scans.km_since_erase,
        scans.odometer - coalesce(jobs.odometer, before.odometer) as km_since_job,
        scans.odometer - coalesce(jobs.erased_odometer, jobs.odometer, before.odometer) as km_since_own_erase
    from core.job_windows as jobs
    join core.readings as readings
        on readings.vehicle = jobs.vehicle
        and readings.scanned_at > jobs.parted_at and readings.scanned_at <= jobs.scans_until
    join core.scans as scans on scans.scan_id = readings.scan_id
    left join core.readings_before as before on before.job_id = jobs.job_id and before.module = readings.module
    where jobs.job_id = jobs.spoken_by
)
select
    job_id,
    module,
    scan_id,
    scanned_at,
    date_diff('minute', parted_at, scanned_at) / 1440 as days,
    asked,
    gaps,
    monitors_ready,
    erased or coalesce(km_since_erase <= km_since_job + 2, false) as erased,
    erased_last or coalesce(km_since_erase <= km_since_job + 2, false) as erased_last,
    if(coalesce(km_since_erase, km_since_own_erase) is null, null, greatest(least(km_since_erase, km_since_own_erase), 0))
        as km,
    if(coalesce(km_since_erase, km_since_job) is null, null, greatest(least(km_since_erase, km_since_job), 0)) as job_km
from driven
