-- One row per job and module that was read in the episode before it.
-- grain: job_id, module
-- reads: core.readings_before
select job_id, module
from core.readings_before
