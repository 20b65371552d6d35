-- One row per vehicle and code that one of its declared modifications usually explains.
-- grain: vehicle, code
-- reads: core.vehicle_codes, staging.modifications, reference.modifications
-- columns:
--   vehicle varchar: stock number
--   code varchar: code key
--   reason varchar: the modification that explains it
select codes.vehicle, codes.code, 'modification: ' || min(modifications.modification) as reason
from core.vehicle_codes as codes
join staging.modifications as modifications on modifications.vehicle = codes.vehicle
join reference.modifications as known
    on contains(modifications.modification, known.keyword)
    and (known.module is null or known.module = codes.module)
    and (known.code is null or known.code = codes.short)
group by codes.vehicle, codes.code
