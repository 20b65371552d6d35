-- One row per vehicle that scans, jobs or background rows name and the stock list does not.
-- grain: vehicle
-- reads: core.scans, core.jobs, staging.background, staging.stock
-- columns:
--   vehicle varchar: stock number
--   seen_in varchar: scanned, repaired, in the background list, joined by `and`
--
-- A dealer who keeps no stock list is not told of every car.
select named.vehicle, string_agg(distinct named.seen_in, ' and ' order by named.seen_in desc) as seen_in
from (
    select vehicle, 'scanned' as seen_in from core.scans
    union all
    select vehicle, 'repaired' from core.jobs
    union all
    select vehicle, 'in the background list' from staging.background where vehicle is not null
) as named
where named.vehicle not in (select vehicle from staging.stock) and exists (select 1 from staging.stock)
group by named.vehicle
