-- One row per stock vehicle whose last erase nobody has looked at since: it wants a road test and a scan.
-- grain: vehicle
-- reads: core.vehicles, core.jobs, core.open_readings
-- columns:
--   vehicle varchar: stock number
--   erased_at timestamp: the last erase
select jobs.vehicle, max(jobs.parted_at) as erased_at
from core.jobs as jobs
join core.vehicles as vehicles on vehicles.vehicle = jobs.vehicle
where jobs.erased and vehicles.in_stock
    and jobs.vehicle not in (select vehicle from core.open_readings)
group by jobs.vehicle
