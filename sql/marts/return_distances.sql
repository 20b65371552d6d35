-- One row per code that was seen to come back after a job, and one with an empty code for all codes together.
-- grain: code
-- reads: fitted.distances
-- columns:
--   code varchar: code key; empty text: all codes together
--   return_km double km: mean distance at which it wakes again while its cause is there
select code, return_km
from fitted.distances
