-- One row per stock vehicle and module that was read since the vehicle's last erase: the last such reading.
-- grain: vehicle, module
-- reads: core.vehicles, core.readings, core.jobs
-- columns:
--   vehicle varchar: stock number
--   module varchar: canonical name of the control unit
--   scan_id bigint: the last scan that read the module
--   scanned_at timestamp: start of that scan
--   whole boolean: in some reading a code with a standing fault could not have been missed
select
    readings.vehicle,
    readings.module,
    max_by(readings.scan_id, readings.scanned_at) as scan_id,
    max(readings.scanned_at) as scanned_at,
    bool_or(readings.whole) as whole
from core.readings as readings
join core.vehicles as vehicles on vehicles.vehicle = readings.vehicle
left join (
    select vehicle, max(parted_at) as erased_at from core.jobs where erased group by vehicle
) as erases on erases.vehicle = readings.vehicle
where vehicles.in_stock and (erases.erased_at is null or readings.scanned_at > erases.erased_at)
group by readings.vehicle, readings.module
