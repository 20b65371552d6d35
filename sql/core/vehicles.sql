-- One row per vehicle that the stock list, a scan or a job knows.
-- grain: vehicle
-- reads: staging.stock, core.scans, core.jobs
-- columns:
--   vehicle varchar: stock number
--   make varchar or blank: who made the car, as the stock list has it
--   model varchar or blank: model line as the stock list has it
--   make_key varchar or blank: make in its one spelling
--   model_line varchar or blank: make and model in their one spelling
--   in_stock boolean: not sold on the day of the report
-- params: as_of
select
    named.vehicle,
    stock.make,
    stock.model,
    stock.make_key,
    stock.model_line,
    stock.sold_on is null or stock.sold_on > $as_of::date as in_stock
from (
    select vehicle from staging.stock
    union
    select vehicle from core.scans
    union
    select vehicle from core.jobs
) as named
left join staging.stock as stock on stock.vehicle = named.vehicle
