-- One row per job and code that was present before it.
-- grain: job_id, code
-- reads: core.readings_before, core.findings
select before.job_id, before.vehicle, before.module, findings.code, findings.short, before.odometer
from core.readings_before as before
join core.findings as findings on findings.scan_id = before.scan_id and findings.module = before.module
where findings.present
