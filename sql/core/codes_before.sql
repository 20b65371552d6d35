-- One row per job and code that was present before it.
-- grain: job_id, code
-- reads: core.job_windows, core.standing_sightings, core.readings_before
-- columns:
--   job_id bigint: number of the job, of the one that speaks where several share their scans
--   vehicle varchar: stock number
--   module varchar: canonical name of the control unit
--   code varchar: code key
--   short varchar: the code without module and make
--   odometer double km or blank: odometer at the last reading before the job
--   named_by varchar[]: kinds of lists that name a code of this state; only from one of these can it be absent
--   current boolean: the module was not read again between that sighting and the job
--   awake boolean: it was active or pending, not stored only, and that is current
--   asleep boolean: it was stored only, and that is current
--
-- The latest sighting before the job counts, unless a later list before the job took it back. Where a later list could
-- not be read whole, or not have named the code, its state at the job is not known.
select
    jobs.job_id,
    jobs.vehicle,
    sightings.module,
    sightings.code,
    any_value(sightings.short) as short,
    any_value(before.odometer) as odometer,
    arg_max(sightings.named_by, sightings.scanned_at) as named_by,
    arg_max(sightings.scan_id, sightings.scanned_at) = any_value(before.scan_id) as current,
    arg_max(sightings.awake, sightings.scanned_at) and arg_max(sightings.scan_id, sightings.scanned_at) = any_value(before.scan_id) as awake,
    arg_max(sightings.status, sightings.scanned_at) in ('confirmed', 'history')
        and arg_max(sightings.scan_id, sightings.scanned_at) = any_value(before.scan_id) as asleep
from core.job_windows as jobs
join core.standing_sightings as sightings
    on sightings.vehicle = jobs.vehicle
    and sightings.scanned_at > jobs.scans_from and sightings.scanned_at <= jobs.parted_at
    and (sightings.taken_back is null or sightings.taken_back > jobs.parted_at)
left join core.readings_before as before on before.job_id = jobs.job_id and before.module = sightings.module
where jobs.job_id = jobs.spoken_by
group by jobs.job_id, jobs.vehicle, sightings.module, sightings.code
