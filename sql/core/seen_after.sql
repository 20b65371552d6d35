-- One row per job and code that was present before it, with what later readings showed of it.
-- grain: job_id, code
-- reads: core.codes_before, core.sightings_after, core.jobs
-- columns:
--   job_id bigint: number of the job
--   vehicle varchar: stock number
--   job varchar: name of the job in the repair log
--   module varchar: canonical name of the control unit
--   code varchar: code key
--   awake boolean: before the job it was active or pending, not stored only
--   looked boolean: the module was read again before the next job
--   absent_km double km or blank: longest distance after which a reading that could have told found it quiet
--   tested boolean: a test or monitor that ran says that the cause is gone
--   seen boolean: it was awake
--   seen_km double km or blank: distance at which it was first awake again; of a kept one, at which it last was
--   seen_days double days or blank: the same in days
--   kept boolean: it was awake before and nothing was erased since, so that it may not have been tested since
--   lost boolean: before it was awake again a list of the module was not understood wholly: it may have been awake then
--   lost_km double km or blank: distance at the first such list
--   lost_days double days or blank: days after which that list was read
--   lost_after_km double km or blank: longest distance before it after which a reading found it quiet
--
-- Readings later than the first one with the code awake again say nothing more of the job. A code that is awake as it
-- was before counts by its last reading, and only where none has found it quiet or awake again; one that was quiet in
-- between is awake again.
with told as (
    select
        job_id,
        code,
        scan_id,
        scanned_at,
        days,
        km,
        tested,
        if(
            state = 'kept' and bool_or(state = 'quiet') over (partition by job_id, code order by scanned_at, scan_id),
            'awake', state
        ) as state
    from core.sightings_after
),
again as (
    select
        job_id,
        code,
        min(scanned_at) as seen_at,
        first(km order by scanned_at) as seen_km,
        min(days) as seen_days
    from told
    where state = 'awake'
    group by job_id, code
),
kept as (
    select
        job_id,
        code,
        max(scanned_at) as seen_at,
        last(km order by scanned_at) as seen_km,
        max(days) as seen_days
    from told
    where state = 'kept'
    group by job_id, code
    having (job_id, code) not in (select (job_id, code) from told where state in ('awake', 'quiet'))
),
back as (
    select job_id, code, seen_at, seen_km, seen_days, false as kept from again
    union all
    select job_id, code, seen_at, seen_km, seen_days, true as kept from kept
),
lost as (
    select
        job_id,
        code,
        min(scanned_at) as lost_at,
        first(km order by scanned_at) as lost_km,
        min(days) as lost_days
    from told
    where state = 'lost'
    group by job_id, code
)
select
    before.job_id,
    before.vehicle,
    jobs.job,
    before.module,
    before.code,
    any_value(before.awake) as awake,
    count(after.scan_id) > 0 as looked,
    max(after.km) filter (where after.state = 'quiet' and after.scanned_at < coalesce(back.seen_at, timestamp 'infinity'))
        as absent_km,
    coalesce(
        bool_or(after.tested) filter (where after.scanned_at < coalesce(back.seen_at, timestamp 'infinity')), false
    ) as tested,
    any_value(back.seen_at) is not null as seen,
    any_value(back.seen_km) as seen_km,
    any_value(back.seen_days) as seen_days,
    coalesce(any_value(back.kept), false) as kept,
    coalesce(any_value(lost.lost_at) < coalesce(any_value(back.seen_at), timestamp 'infinity'), false) as lost,
    any_value(lost.lost_km) as lost_km,
    any_value(lost.lost_days) as lost_days,
    max(after.km) filter (where after.state = 'quiet' and after.scanned_at < lost.lost_at) as lost_after_km
from core.codes_before as before
join core.jobs as jobs on jobs.job_id = before.job_id
left join told as after on after.job_id = before.job_id and after.code = before.code
left join back on back.job_id = before.job_id and back.code = before.code
left join lost on lost.job_id = before.job_id and lost.code = before.code
group by before.job_id, before.vehicle, jobs.job, before.module, before.code
