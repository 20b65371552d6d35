-- One row per stock vehicle, scan and module that answered.
-- grain: vehicle, scanned_at, module
-- reads: core.readings, core.vehicles
-- columns:
--   vehicle varchar: stock number
--   scanned_at timestamp: start of the scan
--   module varchar: it answered
select readings.vehicle, readings.scanned_at, readings.module
from core.readings as readings
join core.vehicles as vehicles on vehicles.vehicle = readings.vehicle
where vehicles.in_stock
