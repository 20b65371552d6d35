-- One row per vehicle and declared modification.
-- grain: vehicle, modification
-- reads: staging.stock
-- columns:
--   vehicle varchar: stock number
--   modification varchar: one declared modification, lower case
select distinct vehicle, lower(trim(part)) as modification
from (select vehicle, unnest(string_split(modifications, ';')) as part from staging.stock) as parts
where trim(part) <> ''
