-- One row per vehicle of the stock list, as its latest row has it.
-- grain: vehicle
-- reads: raw.stock, spelling.makes
--
-- A later row for a vehicle replaces the earlier one; raw.stock keeps what was there before.
select
    stock.vehicle,
    stock.vin,
    stock.make,
    stock.model,
    makes.make_key,
    makes.make_key || ' ' || models.make_key as model_line,
    stock.model_year,
    stock.bought_on::date as bought_on,
    stock.sold_on::date as sold_on,
    stock.modifications
from raw.stock as stock
left join spelling.makes as makes on makes.spelling = stock.make
left join spelling.makes as models on models.spelling = stock.model
qualify row_number() over (partition by stock.vehicle order by stock.file_id desc, stock.row desc) = 1
