-- One row per basket and module that was read in it at least once.
-- grain: basket, module
-- reads: core.baskets, core.scan_episodes, core.readings
-- columns:
--   basket bigint: number of the basket
--   module varchar: read at least once in the episode
select distinct baskets.basket, readings.module
from core.readings as readings
join core.scan_episodes as episodes on episodes.scan_id = readings.scan_id
join core.baskets as baskets on baskets.vehicle = episodes.vehicle and baskets.episode = episodes.episode
