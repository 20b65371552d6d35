-- One row per job and code that was present before it, with what became of it and why it may be looked past.
-- grain: job_id, code
-- reads: core.outcomes, core.jobs, core.masked_codes
select
    outcomes.job_id,
    outcomes.vehicle,
    outcomes.job,
    outcomes.module,
    outcomes.code,
    masked.reason as background,
    outcomes.outcome,
    outcomes.km_proven,
    outcomes.days_to_return,
    outcomes.km_to_return
from core.outcomes as outcomes
join core.jobs as jobs on jobs.job_id = outcomes.job_id
left join core.masked_codes as masked
    on masked.vehicle = outcomes.vehicle and masked.code = outcomes.code
    and jobs.done_at::date <= masked.until_day
