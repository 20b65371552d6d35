-- One row per part of the price book, as its latest row has it.
-- grain: part
-- reads: raw.parts, spelling.parts
-- columns:
--   part varchar: the part's one spelling
--   also_called varchar or blank: other names, `;`-separated
--   part_cents bigint cents or blank: price of the part
--   labour_minutes double minutes or blank: labour to fit it
--   check_minutes double minutes or blank: time to prove it faulty before buying it
--   opening varchar or blank: what must come off first; parts with the same words share it
--   opening_minutes double minutes or blank: time to take that off and put it back
--   check_misses double or blank: how often its check calls a faulty one good, a share
--   check_false_alarms double or blank: how often its check calls a good one faulty, a share
--   supplier varchar or blank: who supplies it
select
    names.part,
    prices.also_called,
    round(prices.part_cost::double * 100)::bigint as part_cents,
    prices.labour_minutes::double as labour_minutes,
    prices.check_minutes::double as check_minutes,
    prices.opening,
    prices.opening_minutes::double as opening_minutes,
    prices.check_misses::double as check_misses,
    prices.check_false_alarms::double as check_false_alarms,
    replace(prices.supplier, ';', ',') as supplier
from raw.parts as prices
join spelling.parts as names on names.spelling = prices.part
qualify row_number() over (partition by names.part order by prices.file_id desc, prices.row desc) = 1
