-- One row per vehicle and code that one of its declared modifications explains: that it usually does, or was said to.
-- grain: vehicle, code
-- reads: core.vehicle_codes, staging.modifications, reference.modifications, spelling.equipment
-- columns:
--   vehicle varchar: stock number
--   code varchar: code key
--   reason varchar: the modification that explains it
select vehicle, code, 'modification: ' || min(modification) as reason
from (
    select codes.vehicle, codes.code, modifications.modification
    from core.vehicle_codes as codes
    join staging.modifications as modifications on modifications.vehicle = codes.vehicle
    join reference.modifications as known
        on contains(modifications.modification, known.keyword)
        and (known.module is null or known.module = codes.module)
        and (known.code is null or known.code = codes.short)
    union all
    select codes.vehicle, codes.code, said.modification
    from core.vehicle_codes as codes
    join spelling.equipment as said on said.vehicle = codes.vehicle and said.code = codes.code
) as explained
group by vehicle, code
