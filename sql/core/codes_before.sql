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
--   named_by varchar[]: kinds of lists that name a code of this state; only from one of these can it be absent
--   awake boolean: it was active or pending, not stored only
select before.job_id, before.vehicle, before.module, findings.code, findings.short, before.odometer,
    case findings.status
        when 'pending' then ['pending']
        when 'permanent' then ['permanent']
        when 'active' then ['active', 'stored']
        when 'history' then ['history', 'stored']
        else ['stored']
    end as named_by,
    findings.status in ('active', 'pending') as awake
from core.readings_before as before
join core.findings as findings on findings.scan_id = before.scan_id and findings.module = before.module
where findings.present
