-- One row per vehicle and code that was ever present on it.
-- grain: vehicle, code
-- reads: core.findings, core.vehicles
-- columns:
--   vehicle varchar: stock number
--   make_key varchar or blank: make in its one spelling
--   module varchar: canonical name of the control unit
--   code varchar: code key
--   short varchar: the code without module and make
--   make varchar or blank: make that the code is scoped to; blank for standard codes
--   first_seen timestamp: first scan that lists it
--   last_seen timestamp: last scan that lists it
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
