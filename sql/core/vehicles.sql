-- One row per vehicle that the stock list, a scan or a job knows.
-- grain: vehicle
-- reads: staging.stock, core.scans, core.jobs
-- columns:
--   vehicle varchar: stock number
--   make varchar or blank: who made the car, as the stock list has it
--   model varchar or blank: model line as the stock list has it
--   make_key varchar or blank: make in its one spelling
--   model_line varchar or blank: make and model in their one spelling
--   in_stock boolean: in the stock list or scanned, and not sold on the day of the report
-- params: as_of
select
    named.vehicle,
    stock.make,
    stock.model,
    stock.make_key,
    stock.model_line,
    named.seen and (stock.sold_on is null or stock.sold_on > $as_of::date) as in_stock
from (
    select vehicle, bool_or(seen) as seen from (
        select vehicle, true as seen from staging.stock
        union all
        select vehicle, true from core.scans
        union all
        -- A line of repairs alone may be another car's, misspelt; it puts none into stock.
        select vehicle, false from core.jobs
    ) as cars
    group by vehicle
) as named
left join staging.stock as stock on stock.vehicle = named.vehicle
