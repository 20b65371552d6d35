-- One row per stock vehicle and code that was seen since its last erase and that no later list has taken back.
-- grain: vehicle, code
-- reads: core.vehicles, core.jobs, core.standing_sightings, core.vehicle_codes, core.masked_codes
-- columns:
--   vehicle varchar: stock number
--   module varchar: canonical name of the control unit
--   code varchar: code key
--   first_seen timestamp: first scan that lists it
--   last_seen timestamp: last scan that lists it
--   status varchar: the status word; empty text where there is none
--   background varchar or blank: why it is looked past; blank where it counts
-- params: as_of
--
-- A list whose lines were not all understood, or that could not have named the code, takes nothing back.
with erases as (
    select vehicle, max(parted_at) as erased_at from core.jobs where erased group by vehicle
),
standing as (
    select
        sightings.vehicle,
        sightings.module,
        sightings.code,
        arg_max(sightings.status, sightings.scanned_at) as status
    from core.standing_sightings as sightings
    join core.vehicles as vehicles on vehicles.vehicle = sightings.vehicle
    left join erases on erases.vehicle = sightings.vehicle
    where vehicles.in_stock and sightings.taken_back is null
        and (erases.erased_at is null or sightings.scanned_at > erases.erased_at)
    group by sightings.vehicle, sightings.module, sightings.code
)
select
    standing.vehicle,
    standing.module,
    standing.code,
    seen.first_seen,
    seen.last_seen,
    standing.status,
    masked.reason as background
from standing
join core.vehicle_codes as seen on seen.vehicle = standing.vehicle and seen.code = standing.code
left join core.masked_codes as masked
    on masked.vehicle = standing.vehicle and masked.code = standing.code and $as_of::date <= masked.until_day
