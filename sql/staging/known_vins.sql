-- One row per vehicle number that exactly one stock vehicle carries.
-- grain: vin
-- reads: staging.stock
-- columns:
--   vin varchar: vehicle identification number, upper case
--   vehicle varchar: stock number
--
-- Two stock numbers with one vehicle number cannot be told apart by it, so neither is taken.
select upper(vin) as vin, min(vehicle) as vehicle
from staging.stock
where vin is not null
group by upper(vin)
having count(*) = 1
