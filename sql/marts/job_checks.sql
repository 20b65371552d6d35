-- One row per vehicle, job and part that was inspected in that job, whatever else was done in it.
-- grain: vehicle, job, part, position
-- reads: staging.repair_rows, core.jobs, core.job_windows
-- columns:
--   vehicle varchar: stock number
--   job varchar: job number, of the one that speaks where several share their scans
--   part varchar: the part's one spelling
--   position varchar: where on the car; empty text where none is given
--   done_at timestamp: when it was done
select
    rows.vehicle,
    coalesce(speaking.job, rows.job) as job,
    rows.part,
    rows.position,
    max(rows.done_at) as done_at
from staging.repair_rows as rows
join core.jobs as jobs on jobs.vehicle = rows.vehicle and jobs.job = rows.job
left join core.job_windows as windows on windows.job_id = jobs.job_id
left join core.jobs as speaking on speaking.job_id = windows.spoken_by
where rows.action = 'inspect' and rows.part is not null
group by rows.vehicle, coalesce(speaking.job, rows.job), rows.part, rows.position
