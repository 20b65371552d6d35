-- One row per part that the price book or a repair names, with what it costs and where it was fitted.
-- grain: part
-- reads: staging.price_book, marts.job_parts
-- columns:
--   part varchar: price book spelling, else the commonest in the repairs
--   also_called varchar or blank: other names, `;`-separated
--   part_cents bigint cents or blank: price of the part
--   labour_minutes double minutes or blank: labour to fit it
--   check_minutes double minutes or blank: time to prove it faulty before buying it
--   opening varchar or blank: what must come off first; parts with the same words share it
--   opening_minutes double minutes or blank: time to take that off and put it back
--   check_misses double or blank: how often its check calls a faulty one good, a share
--   check_false_alarms double or blank: how often its check calls a good one faulty, a share
--   price_source varchar or blank: price book or repairs
--   positions varchar or blank: where repairs fitted it, `;`-separated
--
-- The price book first, then the median of own repairs.
with repairs as (
    select
        part,
        round(median(part_cents))::bigint as part_cents,
        median(labour_minutes)::double as labour_minutes,
        string_agg(distinct position, ';' order by position) filter (where position <> '') as positions
    from marts.job_parts
    where part is not null
    group by part
)
select
    coalesce(book.part, repairs.part) as part,
    book.also_called,
    coalesce(book.part_cents, repairs.part_cents) as part_cents,
    coalesce(book.labour_minutes, repairs.labour_minutes) as labour_minutes,
    book.check_minutes,
    book.opening,
    book.opening_minutes,
    book.check_misses,
    book.check_false_alarms,
    case
        when book.part_cents is not null then 'price book'
        when repairs.part_cents is not null then 'repairs'
    end as price_source,
    repairs.positions
from staging.price_book as book
full join repairs on repairs.part = book.part
