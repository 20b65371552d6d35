-- One row per job that changed something, with the moments between which scans tell of it.
-- grain: job_id
-- reads: core.jobs, core.scans
-- columns:
--   job_id bigint: number of the job
--   spoken_by bigint: the job that speaks for it and for those with which it shares its scans; often itself
--   vehicle varchar: stock number
--   parted_at timestamp: last moment that counts as before
--   odometer double km or blank: odometer at the last of them
--   erased boolean: one of them erased codes
--   erased_last boolean: one of them erased codes, and none worked on the car after a drive since
--   erased_odometer double km or blank: odometer at the last of them that erased
--   scans_from timestamp: scans up to here belong to the job before
--   scans_until timestamp: scans later than this belong to the job after
--
-- Scans later than scans_from and up to parted_at came before; later than parted_at and up to scans_until, after.
-- Jobs of a car with no scan of it between them share both sides, whatever they were about: what was there before the
-- first and what is there after the last tells of all of them together, so their parts share the credit as if fitted at
-- once, and the first that worked on something speaks for them. Driven without a code counts from the last erase: had
-- the cause outlived all of them, it would have been there since. After an erase and a drive, work without an erase may
-- have ended what had come back by then, so that a code that is listed need not have been set since.
with moments as (
    select
        jobs.job_id,
        jobs.vehicle,
        jobs.parted_at,
        jobs.odometer,
        jobs.erased,
        jobs.erase_only,
        count(scans.scan_id) as scans_before
    from core.jobs as jobs
    left join core.scans as scans on scans.vehicle = jobs.vehicle and scans.scanned_at <= jobs.parted_at
    where jobs.changes
    group by jobs.job_id, jobs.vehicle, jobs.parted_at, jobs.odometer, jobs.erased, jobs.erase_only
),
shared as (
    select
        vehicle,
        scans_before,
        first(job_id order by erase_only, parted_at, job_id) as spoken_by,
        min(parted_at) as first_at,
        max(parted_at) as parted_at,
        max(odometer) as odometer,
        max(parted_at) filter (where erased) as erased_at,
        last(odometer order by parted_at) filter (where erased) as erased_odometer
    from moments
    group by vehicle, scans_before
),
sides as (
    select
        *,
        lag(parted_at) over (partition by vehicle order by parted_at) as scans_from,
        lead(first_at) over (partition by vehicle order by parted_at) as scans_until
    from shared
)
select
    moments.job_id,
    sides.spoken_by,
    moments.vehicle,
    sides.parted_at,
    sides.odometer,
    sides.erased_at is not null as erased,
    -- Within a day, or 2 km by the odometers, the car was not driven to speak of (common practice, no source).
    coalesce(
        sides.erased_at::date = sides.parted_at::date or sides.odometer <= sides.erased_odometer + 2, false
    ) as erased_last,
    coalesce(sides.erased_odometer, if(sides.erased_at is null, null, sides.odometer)) as erased_odometer,
    coalesce(sides.scans_from, timestamp '0001-01-01') as scans_from,
    coalesce(sides.scans_until, timestamp '9999-12-31') as scans_until
from moments
join sides on sides.vehicle = moments.vehicle and sides.scans_before = moments.scans_before
