-- One row per basket: an episode between two jobs in which the vehicle was scanned, codes or none.
-- grain: basket
-- reads: core.baskets
-- columns:
--   basket bigint: number of the basket
--   vehicle varchar: stock number
--   line varchar: model line that the car is counted in
--   started_at timestamp: first scan
--   ended_at timestamp: last scan
select basket, vehicle, line, started_at, ended_at
from core.baskets
