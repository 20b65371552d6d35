-- One row per vehicle and code that a background row tells to look past.
-- grain: vehicle, code
-- reads: core.vehicle_codes, staging.background
-- columns:
--   vehicle varchar: stock number
--   code varchar: code key
--   reason varchar: why the code is looked past
--   until_day date: last day this holds
select
    codes.vehicle,
    codes.code,
    min(background.reason) as reason,
    max(coalesce(background.until_day, date '9999-12-31')) as until_day
from core.vehicle_codes as codes
join staging.background as background
    on (background.vehicle is null or background.vehicle = codes.vehicle)
    and (background.make_key is null or background.make_key = codes.make_key)
    and (background.module is null or background.module = codes.module)
    and (background.short is null or background.short = codes.short)
group by codes.vehicle, codes.code
