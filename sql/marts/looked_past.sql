-- One row per vehicle, make, code and reason for which background rows look past the code, where some vehicle shows it.
-- grain: vehicle, make_key, code, reason
-- reads: core.vehicle_codes, staging.background
-- columns:
--   vehicle varchar: stock number; empty text: every vehicle of the make
--   make_key varchar: make in its one spelling; empty text: every make
--   code varchar: code key
--   reason varchar: why the code is looked past
--   cars bigint: vehicles that ever showed it
-- params: as_of
--
-- Rows whose last day is over look past nothing any more.
select
    coalesce(background.vehicle, '') as vehicle,
    coalesce(background.make_key, '') as make_key,
    codes.code,
    background.reason,
    count(distinct codes.vehicle) as cars
from core.vehicle_codes as codes
join staging.background as background
    on (background.vehicle is null or background.vehicle = codes.vehicle)
    and (background.make_key is null or background.make_key = codes.make_key)
    and (background.module is null or background.module = codes.module)
    and (background.short is null or background.short = codes.short)
where background.until_day is null or background.until_day >= $as_of::date
group by all
