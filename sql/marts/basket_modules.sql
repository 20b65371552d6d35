-- One row per basket and module that was read in it at least once.
-- grain: basket, module
-- reads: core.baskets, core.scan_episodes, core.readings, core.findings
-- columns:
--   basket bigint: number of the basket
--   module varchar: read at least once in the episode
--
-- Only readings from which a code can be known to be absent, or that showed one.
select distinct baskets.basket, readings.module
from core.readings as readings
join core.scan_episodes as episodes on episodes.scan_id = readings.scan_id
join core.baskets as baskets on baskets.vehicle = episodes.vehicle and baskets.episode = episodes.episode
where readings.whole or exists (
    select 1 from core.findings as findings
    where findings.scan_id = readings.scan_id and findings.module = readings.module and findings.present
)
