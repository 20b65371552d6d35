-- One row per vehicle that the stock list, a scan or a job knows.
-- grain: vehicle
-- reads: staging.stock, core.scans, core.jobs
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
