-- One row per job that changed something on a vehicle.
-- grain: job_id
-- reads: core.jobs, core.job_windows, core.vehicles, core.lines
select
    jobs.job_id,
    jobs.vehicle,
    jobs.job,
    vehicles.make,
    lines.line,
    jobs.done_at,
    windows.parted_at,
    jobs.odometer,
    windows.erased,
    jobs.erase_only
from core.jobs as jobs
join core.job_windows as windows on windows.job_id = jobs.job_id
join core.vehicles as vehicles on vehicles.vehicle = jobs.vehicle
join core.lines as lines on lines.vehicle = jobs.vehicle
