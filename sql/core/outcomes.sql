-- One row per job and code that was present before it, with what became of the code.
-- grain: job_id, code
-- reads: core.seen_after, fitted.outcomes
-- columns:
--   job_id bigint: number of the job
--   vehicle varchar: stock number
--   job varchar: name of the job in the repair log
--   module varchar: canonical name of the control unit
--   code varchar: code key
--   awake boolean: before the job it was active or pending, not stored only
--   outcome varchar: cleared, returned, recurred, unproven or unread; decided by analysis/evidence/cleared.py
--   km_proven double km or blank: longest distance after which a reading that could have told found it quiet
--   days_to_return double days or blank: first seen awake again after so many
--   km_to_return double km or blank: first seen awake again after so many
--   lik_gone double: likelihood of what was seen if the cause is gone, the larger of the two being 1
--   lik_still double: likelihood of it if the cause is still there
--   cleared_chance double or blank: chance that the cause is gone, at even odds before; blank where nothing looked
--
-- The words and likelihoods are what the cure model makes of core.seen_after.
select
    seen.job_id,
    seen.vehicle,
    seen.job,
    seen.module,
    seen.code,
    seen.awake,
    settled.outcome,
    settled.km_proven,
    settled.days_to_return,
    settled.km_to_return,
    settled.lik_gone,
    settled.lik_still,
    settled.cleared_chance
from core.seen_after as seen
join fitted.outcomes as settled on settled.job_id = seen.job_id and settled.code = seen.code
