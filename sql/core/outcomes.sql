-- One row per job and code that was present before it, with what became of the code.
-- grain: job_id, code
-- reads: core.codes_before, core.sightings_after, core.jobs
-- columns:
--   job_id bigint: number of the job
--   vehicle varchar: stock number
--   job varchar: job number
--   module varchar: canonical name of the control unit
--   code varchar: code key
--   outcome varchar: returned, cleared, unproven or unread
--   km_proven double km or blank: longest distance after which a reading missed it
--   days_to_return double days or blank: first return after the job
--   km_to_return double km or blank: first return after the job
--
-- 'returned' seen again after; 'cleared' absent and proven; 'unproven' absent, too little driven; 'unread' nothing
-- looked. km_proven is the longest distance after which a reading missed the code.
select
    before.job_id,
    before.vehicle,
    jobs.job,
    before.module,
    before.code,
    case
        when count(after.scan_id) = 0 then 'unread'
        when bool_or(after.verdict = 'seen') then 'returned'
        when bool_or(after.verdict = 'proven') then 'cleared'
        else 'unproven'
    end as outcome,
    max(after.km) filter (where after.verdict <> 'seen') as km_proven,
    min(after.days) filter (where after.verdict = 'seen') as days_to_return,
    min(after.km) filter (where after.verdict = 'seen') as km_to_return
from core.codes_before as before
join core.jobs as jobs on jobs.job_id = before.job_id
left join core.sightings_after as after on after.job_id = before.job_id and after.code = before.code
group by before.job_id, before.vehicle, jobs.job, before.module, before.code
