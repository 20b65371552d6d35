-- One row per stock vehicle whose last erase nobody has looked at since: it wants a road test and a scan.
-- grain: vehicle
-- reads: core.vehicles, core.job_windows, core.open_readings
-- columns:
--   vehicle varchar: stock number
--   erased_at timestamp: the last erase
select windows.vehicle, max(windows.parted_at) as erased_at
from core.job_windows as windows
join core.vehicles as vehicles on vehicles.vehicle = windows.vehicle
where windows.erased and vehicles.in_stock
    and windows.vehicle not in (select vehicle from core.open_readings)
group by windows.vehicle
