-- One row per declared modification and code that vehicles with it share and others lack.
-- grain: modification, code
-- reads: core.vehicle_codes, staging.modifications, core.scans
-- columns:
--   modification varchar: one declared modification, lower case
--   code varchar: code key
--
-- At least three scanned vehicles with the modification carry the code, they are at least half of those with it,
-- and it is five times as common on them as on the rest.
with scanned as (
    select distinct vehicle from core.scans
),
modified as (
    select modification, count(*) as vehicles
    from staging.modifications
    join scanned using (vehicle)
    group by modification
),
carried as (
    select
        modifications.modification,
        codes.code,
        count(*) as vehicles,
        any_value(everywhere.vehicles) as vehicles_anywhere
    from core.vehicle_codes as codes
    join staging.modifications as modifications using (vehicle)
    join (select code, count(*) as vehicles from core.vehicle_codes group by code) as everywhere using (code)
    group by modifications.modification, codes.code
)
select carried.modification, carried.code
from carried
join modified using (modification)
where carried.vehicles >= 3
    and carried.vehicles * 2 >= modified.vehicles
    and carried.vehicles * ((select count(*) from scanned) - modified.vehicles)
        >= 5 * (carried.vehicles_anywhere - carried.vehicles) * modified.vehicles
