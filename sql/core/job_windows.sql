-- One row per job that changed something, with the moments between which scans tell of it.
-- grain: job_id
-- reads: core.jobs
-- columns:
--   job_id bigint: number of the job
--   vehicle varchar: stock number
--   parted_at timestamp: last moment that counts as before
--   odometer double km or blank: odometer
--   erased boolean: a job at that moment erased codes
--   scans_from timestamp: scans up to here belong to the job before
--   scans_until timestamp: scans later than this belong to the job after
--
-- Scans later than scans_from and up to parted_at came before; later than parted_at and up to scans_until, after.
-- Two jobs that cannot be told apart in time share both sides.
with moments as (
    select
        vehicle,
        parted_at,
        bool_or(erased) as erased,
        lag(parted_at) over (partition by vehicle order by parted_at) as scans_from,
        lead(parted_at) over (partition by vehicle order by parted_at) as scans_until
    from core.jobs
    where changes
    group by vehicle, parted_at
)
select
    jobs.job_id,
    jobs.vehicle,
    jobs.parted_at,
    jobs.odometer,
    moments.erased,
    coalesce(moments.scans_from, timestamp '0001-01-01') as scans_from,
    coalesce(moments.scans_until, timestamp '9999-12-31') as scans_until
from core.jobs as jobs
join moments on moments.vehicle = jobs.vehicle and moments.parted_at = jobs.parted_at
where jobs.changes
