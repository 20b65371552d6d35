-- One row per vehicle in stock, with what stands at the head of its job sheet and with a part to order.
-- grain: vehicle
-- reads: core.vehicles, staging.stock, core.moments
-- columns:
--   vehicle varchar: stock number
--   vin varchar or blank: vehicle identification number
--   plate varchar or blank: number plate
--   model_year varchar or blank: model year, as text
--   asking_cents bigint cents or blank: what is asked for it
--   odometer double km or blank: at the latest scan or job that tells one
with latest as (
    select vehicle, arg_max(odometer, happened_at) as odometer
    from core.moments
    where odometer is not null
    group by vehicle
)
select vehicles.vehicle, stock.vin, stock.plate, stock.model_year, stock.asking_cents, latest.odometer
from core.vehicles as vehicles
left join staging.stock as stock on stock.vehicle = vehicles.vehicle
left join latest on latest.vehicle = vehicles.vehicle
where vehicles.in_stock
