-- One row per stock vehicle and module that was read since the vehicle's last erase.
-- grain: vehicle, module
-- reads: core.open_readings
-- columns:
--   vehicle varchar: stock number
--   module varchar: read since the vehicle's last erase
--
-- Only readings from which a code can be known to be absent.
select vehicle, module
from core.open_readings
where whole
