-- One row per thing counted in the whole database.
-- grain: name
-- reads: core.scans, core.readings, core.findings, core.vehicles, core.baskets, core.jobs, core.masked_codes,
--   staging.stock, marts.outcomes, marts.open_codes, marts.stock, marts.rejects
-- columns:
--   name varchar: what is counted
--   number bigint: how many
--
-- A car that repairs alone name is not counted as in stock: it is sold, or misspelt there.
select 'vehicles' as name, count(*) as number from core.vehicles
union all select 'stock_cars', count(*) from marts.stock
    where vehicle in (select vehicle from staging.stock union all select vehicle from core.scans)
union all select 'scans', count(*) from core.scans
union all select 'modules_read', count(*) from core.readings
union all select 'codes_read', count(*) from core.findings
union all select 'baskets', count(*) from core.baskets
union all select 'jobs', count(*) from core.jobs
union all select 'codes_masked', count(*) from core.masked_codes
union all select 'open_codes', count(*) from marts.open_codes
union all select 'outcomes_cleared', count(*) from marts.outcomes where outcome = 'cleared'
union all select 'outcomes_returned', count(*) from marts.outcomes where outcome = 'returned'
union all select 'outcomes_recurred', count(*) from marts.outcomes where outcome = 'recurred'
union all select 'outcomes_unproven', count(*) from marts.outcomes where outcome = 'unproven'
union all select 'outcomes_unread', count(*) from marts.outcomes where outcome = 'unread'
union all select 'codes_refused', count(*) from marts.rejects where "column" = 'code'
