-- One row per job and code that was present before it, with what later readings showed of it and why it may be masked.
-- grain: job_id, code
-- reads: core.seen_after, core.jobs, core.masked_codes
-- columns:
--   job_id bigint: number of the job
--   code varchar: code key
--   background varchar or blank: why the code is masked; blank where it is reckoned with
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
select
    seen.job_id,
    seen.code,
    masked.reason as background,
    seen.looked,
    seen.absent_km,
    seen.tested,
    seen.seen,
    seen.seen_km,
    seen.seen_days,
    seen.kept,
    seen.lost,
    seen.lost_km,
    seen.lost_days,
    seen.lost_after_km
from core.seen_after as seen
join core.jobs as jobs on jobs.job_id = seen.job_id
left join core.masked_codes as masked
    on masked.vehicle = seen.vehicle and masked.code = seen.code
    and jobs.done_at::date <= masked.until_day
