-- One row per vehicle and module that was read before the vehicle's first job.
-- grain: vehicle, module
-- reads: core.baskets, marts.basket_modules
-- columns:
--   vehicle varchar: stock number
--   module varchar: read at least once before the first job
select baskets.vehicle, modules.module
from core.baskets as baskets
join marts.basket_modules as modules on modules.basket = baskets.basket
where baskets.episode = 0
