-- One row per part of the price book, as its latest row has it.
-- grain: part
-- reads: raw.parts, spelling.parts
select
    names.part,
    prices.also_called,
    round(prices.part_cost::double * 100)::bigint as part_cents,
    prices.labour_minutes::double as labour_minutes,
    prices.check_minutes::double as check_minutes,
    prices.opening,
    prices.opening_minutes::double as opening_minutes
from raw.parts as prices
join spelling.parts as names on names.spelling = prices.part
qualify row_number() over (partition by names.part order by prices.file_id desc, prices.row desc) = 1
