-- One row per job and code that was present before it.
-- grain: job_id, code
-- reads: core.readings_before, core.findings
--
-- named_by holds the kinds of lists that name a code of this state; only from one of these can it be absent.
select before.job_id, before.vehicle, before.module, findings.code, findings.short, before.odometer,
    case findings.status
        when 'pending' then ['pending']
        when 'permanent' then ['permanent']
        when 'active' then ['active', 'stored']
        when 'history' then ['history', 'stored']
        else ['stored']
    end as named_by
from core.readings_before as before
join core.findings as findings on findings.scan_id = before.scan_id and findings.module = before.module
where findings.present
