-- One row per job and code that was present before it.
-- grain: job_id, code
-- reads: core.readings_before, core.findings
-- columns:
--   job_id bigint: number of the job
--   vehicle varchar: stock number
--   module varchar: canonical name of the control unit
--   code varchar: code key
--   short varchar: the code without module and make
--   odometer double km or blank: odometer at the last reading before the job
select before.job_id, before.vehicle, before.module, findings.code, findings.short, before.odometer
from core.readings_before as before
join core.findings as findings on findings.scan_id = before.scan_id and findings.module = before.module
where findings.present
