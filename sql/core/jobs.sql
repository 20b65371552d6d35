-- One row per job: the rows of one vehicle and job name are one visit.
-- grain: job_id
-- reads: staging.repair_rows, core.day_jobs
-- columns:
--   job_id bigint: number of the job
--   vehicle varchar: stock number
--   job varchar: job number
--   done_at timestamp: when it was done
--   parted_at timestamp: last moment that counts as before
--   odometer double km or blank: odometer
--   erased boolean: codes were erased
--   erase_only boolean: nothing but codes was erased
--   changes boolean: something was done besides inspecting
--
-- parted_at is the last moment that counts as before. A job that only inspects changes nothing on the car.
select
    row_number() over (order by rows.vehicle, max(rows.done_at), rows.job) as job_id,
    rows.vehicle,
    rows.job,
    max(rows.done_at) as done_at,
    coalesce(any_value(day_jobs.parted_at), max(rows.done_at)) as parted_at,
    max(rows.odometer) as odometer,
    bool_or(rows.action = 'erase') as erased,
    bool_and(rows.action = 'erase') as erase_only,
    bool_or(rows.action <> 'inspect') as changes
from staging.repair_rows as rows
left join core.day_jobs as day_jobs on day_jobs.vehicle = rows.vehicle and day_jobs.job = rows.job
group by rows.vehicle, rows.job
