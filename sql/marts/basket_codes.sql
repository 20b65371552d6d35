-- One row per basket and code that was present in it and is not looked past.
-- grain: basket, code
-- reads: core.baskets, core.scan_episodes, core.findings, core.masked_codes
-- columns:
--   basket bigint: number of the basket
--   code varchar: code key that is not looked past
--   first_seen timestamp: first scan of the basket that lists it
--   first_odometer double km or blank: odometer when the code was first stored
select
    baskets.basket,
    findings.code,
    min(findings.scanned_at) as first_seen,
    min(findings.first_odometer) as first_odometer
from core.findings as findings
join core.scan_episodes as episodes on episodes.scan_id = findings.scan_id
join core.baskets as baskets on baskets.vehicle = episodes.vehicle and baskets.episode = episodes.episode
left join core.masked_codes as masked
    on masked.vehicle = findings.vehicle and masked.code = findings.code
    and findings.scanned_at::date <= masked.until_day
where findings.present and masked.vehicle is null
group by baskets.basket, findings.code
