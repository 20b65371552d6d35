-- One row per vehicle of the stock list, as its latest row has it.
-- grain: vehicle
-- reads: raw.stock, spelling.makes
-- columns:
--   vehicle varchar: stock number
--   vin varchar or blank: vehicle identification number
--   plate varchar or blank: number plate, where the stock list tells it
--   make varchar or blank: who made the car, as the stock list has it; blank for an appraised car without one
--   model varchar or blank: model line as the stock list has it; blank for an appraised car without one
--   make_key varchar or blank: make in its one spelling
--   model_line varchar or blank: make and model in their one spelling
--   model_year varchar or blank: model year, as text
--   bought_on date or blank: day it came into stock
--   sold_on date or blank: day it left; blank while it is in stock
--   asking_cents bigint cents or blank: what is asked for it
--   modifications varchar or blank: what was changed on the car, `;`-separated
--
-- A later row for a vehicle replaces the earlier one; raw.stock keeps what was there before.
select
    stock.vehicle,
    stock.vin,
    stock.plate,
    stock.make,
    stock.model,
    makes.make_key,
    makes.make_key || ' ' || models.make_key as model_line,
    stock.model_year,
    stock.bought_on::date as bought_on,
    stock.sold_on::date as sold_on,
    round(stock.asking_price::double * 100)::bigint as asking_cents,
    stock.modifications
from raw.stock as stock
left join spelling.makes as makes on makes.spelling = stock.make
left join spelling.makes as models on models.spelling = stock.model
qualify row_number() over (partition by stock.vehicle order by stock.file_id desc, stock.row desc) = 1
