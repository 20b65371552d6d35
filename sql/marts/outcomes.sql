-- One row per job and code that was present before it, with what became of it and why it may be looked past.
-- grain: job_id, code
-- reads: core.outcomes, core.jobs, core.masked_codes
-- columns:
--   job_id bigint: number of the job
--   vehicle varchar: stock number
--   job varchar: job number
--   module varchar: canonical name of the control unit
--   code varchar: code key
--   background varchar or blank: why it is looked past; blank where it counts
--   awake boolean: before the job it was active or pending, not stored only
--   outcome varchar: cleared, returned, recurred, unproven or unread
--   km_proven double km or blank: longest distance after which a reading that could have told found it quiet
--   days_to_return double days or blank: first seen awake again after so many
--   km_to_return double km or blank: first seen awake again after so many
--   lik_gone double: likelihood of what was seen if the cause is gone, the larger of the two being 1
--   lik_still double: likelihood of it if the cause is still there
--   cleared_chance double or blank: chance that the cause is gone, at even odds before; blank where nothing looked
select
    outcomes.job_id,
    outcomes.vehicle,
    outcomes.job,
    outcomes.module,
    outcomes.code,
    masked.reason as background,
    outcomes.awake,
    outcomes.outcome,
    outcomes.km_proven,
    outcomes.days_to_return,
    outcomes.km_to_return,
    outcomes.lik_gone,
    outcomes.lik_still,
    outcomes.cleared_chance
from core.outcomes as outcomes
join core.jobs as jobs on jobs.job_id = outcomes.job_id
left join core.masked_codes as masked
    on masked.vehicle = outcomes.vehicle and masked.code = outcomes.code
    and jobs.done_at::date <= masked.until_day
