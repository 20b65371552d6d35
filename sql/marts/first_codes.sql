-- One row per vehicle and code that it showed before its first job, and one with an empty code where it showed none.
-- grain: vehicle, code
-- reads: core.baskets, core.scan_episodes, core.scans, core.vehicles, marts.basket_codes
-- columns:
--   vehicle varchar: stock number
--   make varchar or blank: make in its one spelling
--   line varchar: model line that the car is counted in
--   erased_km double km or blank: longest distance since an erase that one of these scans tells; blank: none tells of one
--   tells boolean: one of these scans says what the car knows of its last erase, be it that there was none
--   code varchar: code key that is not looked past; empty text: none was seen
with told as (
    select
        episodes.vehicle,
        max(scans.km_since_erase) as erased_km,
        bool_or(scans.km_since_erase is not null or scans.monitors_ready is not null) as tells
    from core.scan_episodes as episodes
    join core.scans as scans on scans.scan_id = episodes.scan_id
    where episodes.episode = 0
    group by episodes.vehicle
)
select
    baskets.vehicle,
    vehicles.make_key as make,
    baskets.line,
    told.erased_km,
    told.tells,
    coalesce(codes.code, '') as code
from core.baskets as baskets
join core.vehicles as vehicles on vehicles.vehicle = baskets.vehicle
join told on told.vehicle = baskets.vehicle
left join marts.basket_codes as codes on codes.basket = baskets.basket
where baskets.episode = 0
