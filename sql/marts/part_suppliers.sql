-- One row per part that somebody supplies.
-- grain: part
-- reads: staging.price_book, marts.job_parts
-- columns:
--   part varchar: the part's one spelling
--   supplier varchar: who supplies it
--
-- The price book first, then who supplied it most often, the first by name where two did equally often.
with fitted as (
    select part, supplier, count(*) as jobs
    from marts.job_parts
    where part is not null and supplier is not null
    group by part, supplier
),
commonest as (
    select part, supplier from fitted
    qualify row_number() over (partition by part order by jobs desc, supplier) = 1
)
select coalesce(book.part, commonest.part) as part, coalesce(book.supplier, commonest.supplier) as supplier
from (select part, supplier from staging.price_book where supplier is not null) as book
full join commonest on commonest.part = book.part
