-- One row per job and module that was read in the episode before it.
-- grain: job_id, module
-- reads: core.readings_before
-- columns:
--   job_id bigint: number of the job
--   module varchar: read in the episode before the job
--
-- Only readings from which a code can be known to be absent.
select job_id, module
from core.readings_before
where whole
