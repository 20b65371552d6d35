-- One row per vehicle and declared modification.
-- grain: vehicle, modification
-- reads: staging.stock
select distinct vehicle, lower(trim(part)) as modification
from (select vehicle, unnest(string_split(modifications, ';')) as part from staging.stock) as parts
where trim(part) <> ''
