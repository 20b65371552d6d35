-- One row per vehicle and declared modification.
-- grain: vehicle, modification
-- reads: staging.stock, spelling.equipment
-- columns:
--   vehicle varchar: stock number
--   modification varchar: one declared modification, lower case
--
-- The stock list declares it, or the dealer said it of the car.
select distinct vehicle, lower(trim(part)) as modification
from (
    select vehicle, unnest(string_split(modifications, ';')) as part from staging.stock
    union all
    select vehicle, modification from spelling.equipment
) as parts
where trim(part) <> ''
