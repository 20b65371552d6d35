-- One row per vehicle, with the model line that it is counted in.
-- grain: vehicle
-- reads: core.vehicles, core.scans
-- columns:
--   vehicle varchar: stock number
--   line varchar: model line that the car is counted in
--
-- Lines with fewer than 10 scanned vehicles are merged into 'other': too few to compare within.
select
    vehicles.vehicle,
    if(
        vehicles.model_line is not null
        and count(scanned.vehicle) over (partition by vehicles.model_line) >= 10,
        vehicles.model_line,
        'other'
    ) as line
from core.vehicles as vehicles
left join (select distinct vehicle from core.scans) as scanned on scanned.vehicle = vehicles.vehicle
