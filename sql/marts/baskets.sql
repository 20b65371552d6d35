-- One row per basket: an episode between two jobs in which the vehicle was scanned, codes or none.
-- grain: basket
-- reads: core.baskets
select basket, vehicle, line, started_at, ended_at
from core.baskets
