-- One row per vehicle and code that inference looks past, with the reason and the last day it holds.
-- grain: vehicle, code
-- reads: core.background_codes, core.declared_codes, core.shared_modification_codes,
--   staging.modifications, core.vehicle_codes
-- columns:
--   vehicle varchar: stock number
--   code varchar: code key
--   reason varchar: why the code is looked past
--   until_day date: last day this holds
--
-- What the dealer wrote comes before what was declared. Nothing is masked unasked: a code that outlives every erase and
-- repair is weighed as a standing cause, and proposed to the dealer.
with reasons as (
    select 1 as place, vehicle, code, reason, until_day from core.background_codes
    union all
    select 2, vehicle, code, reason, date '9999-12-31' from core.declared_codes
    union all
    select 3, codes.vehicle, codes.code, 'modification: ' || min(modification), date '9999-12-31'
    from core.vehicle_codes as codes
    join staging.modifications using (vehicle)
    join core.shared_modification_codes as shared using (modification, code)
    group by codes.vehicle, codes.code
)
select vehicle, code, min_by(reason, place) as reason, max(until_day) as until_day
from reasons
group by vehicle, code
