-- One row per job that changed something on a vehicle; those with no scan of it between them are one.
-- grain: job_id
-- reads: core.jobs, core.job_windows, core.vehicles, core.lines
-- columns:
--   job_id bigint: number of the job, of the first that worked on something where several are one
--   vehicle varchar: stock number
--   job varchar: job number
--   make varchar or blank: who made the car, as the stock list has it
--   line varchar: model line that the car is counted in
--   done_at timestamp: when it was done
--   parted_at timestamp: scans later than that are after it
--   odometer double km or blank: odometer at the last of them
--   erased boolean: codes were erased, at one of them
--   erase_only boolean: nothing but codes was erased, at any of them
select
    jobs.job_id,
    jobs.vehicle,
    jobs.job,
    vehicles.make,
    lines.line,
    jobs.done_at,
    windows.parted_at,
    windows.odometer,
    windows.erased,
    jobs.erase_only
from core.jobs as jobs
join core.job_windows as windows on windows.job_id = jobs.job_id and windows.spoken_by = jobs.job_id
join core.vehicles as vehicles on vehicles.vehicle = jobs.vehicle
join core.lines as lines on lines.vehicle = jobs.vehicle
