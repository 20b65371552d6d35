-- One row per vehicle of the stock list, as its latest row has it.
-- grain: vehicle
-- reads: raw.stock
--
-- A later row for a vehicle replaces the earlier one; raw.stock keeps what was there before.
select
    vehicle,
    vin,
    make,
    model,
    lower(trim(regexp_replace(make, '\s+', ' ', 'g'))) as make_key,
    lower(trim(regexp_replace(make || ' ' || model, '\s+', ' ', 'g'))) as model_line,
    model_year,
    bought_on::date as bought_on,
    sold_on::date as sold_on,
    modifications
from raw.stock
qualify row_number() over (partition by vehicle order by file_id desc, row desc) = 1
