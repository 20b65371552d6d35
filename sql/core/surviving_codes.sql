-- One row per vehicle and code that came back after every erase and every repair while those repairs cleared others.
-- grain: vehicle, code
-- reads: core.outcomes, core.jobs
-- columns:
--   vehicle varchar: stock number
--   code varchar: code key
--   reason varchar: why the code is looked past
--
-- Three returns at least and never once gone; and one of those jobs cleared another code, so the code outlives work
-- that did work. Without that last demand a fault that nobody has found yet would be looked past.
with survived as (
    select outcomes.vehicle, outcomes.code
    from core.outcomes as outcomes
    join core.jobs as jobs on jobs.job_id = outcomes.job_id
    where jobs.erased
    group by outcomes.vehicle, outcomes.code
    having count(*) filter (where outcomes.outcome = 'returned') >= 3
        and count(*) filter (where outcomes.outcome in ('cleared', 'unproven')) = 0
)
select survived.vehicle, survived.code, 'came back after every erase and repair' as reason
from survived
join core.outcomes as own
    on own.vehicle = survived.vehicle and own.code = survived.code and own.outcome = 'returned'
join core.outcomes as other on other.job_id = own.job_id and other.outcome = 'cleared'
group by survived.vehicle, survived.code
