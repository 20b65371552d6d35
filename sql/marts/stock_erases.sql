-- One row per stock vehicle that was scanned, with how far it was driven since its codes were erased.
-- grain: vehicle
-- reads: core.vehicles, core.scans, core.jobs
-- columns:
--   vehicle varchar: stock number
--   km double km or blank: distance from the last known erase to the last scan, 0 where no scan came after it
--   own boolean: it was one of the dealer's own jobs
--   tells boolean: the last scan says what the car knows of its last erase, be it that there was none
--   monitors_ready boolean or blank: the last scan says that every readiness monitor is complete
--
-- The car's own word counts, and the odometer at the dealer's jobs; the shorter distance where both are known.
with last_scans as (
    select
        scans.vehicle,
        max(scans.scanned_at) as scanned_at,
        max_by(scans.odometer, scans.scanned_at) as odometer,
        max_by(scans.km_since_erase, scans.scanned_at) as km_since_erase,
        max_by(scans.monitors_ready, scans.scanned_at) as monitors_ready
    from core.scans as scans
    join core.vehicles as vehicles on vehicles.vehicle = scans.vehicle and vehicles.in_stock
    group by scans.vehicle
),
erases as (
    select vehicle, max(parted_at) as erased_at, max_by(odometer, parted_at) as odometer
    from core.jobs
    where erased
    group by vehicle
),
told as (
    select
        last_scans.vehicle,
        last_scans.km_since_erase as car_km,
        case
            when erases.erased_at is null then null
            when last_scans.scanned_at <= erases.erased_at then 0.0
            else greatest(last_scans.odometer - erases.odometer, 0.0)
        end as own_km,
        last_scans.monitors_ready
    from last_scans
    left join erases on erases.vehicle = last_scans.vehicle
)
select
    vehicle,
    least(car_km, own_km)::double as km,
    coalesce(own_km <= coalesce(car_km, own_km) + 2, false) as own,
    car_km is not null or monitors_ready is not null as tells,
    monitors_ready
from told
