-- One row per vehicle and code that was ever present on it.
-- grain: vehicle, code
-- reads: core.findings, core.vehicles
select
    findings.vehicle,
    vehicles.make_key,
    findings.module,
    findings.code,
    any_value(findings.short) as short,
    any_value(findings.make) as make,
    min(findings.scanned_at) as first_seen,
    max(findings.scanned_at) as last_seen
from core.findings as findings
join core.vehicles as vehicles on vehicles.vehicle = findings.vehicle
where findings.present
group by findings.vehicle, vehicles.make_key, findings.module, findings.code
