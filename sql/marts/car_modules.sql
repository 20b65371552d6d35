-- One row per vehicle and module that it has: some scan asked for it, answered or not.
-- grain: vehicle, module
-- reads: staging.scan_rows
-- columns:
--   vehicle varchar: stock number
--   module varchar: canonical name of the control unit
select distinct vehicle, module
from staging.scan_rows
where module is not null
