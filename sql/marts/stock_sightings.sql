-- One row per stock vehicle, scan and code that was present in it: the car's story.
-- grain: vehicle, scanned_at, code
-- reads: core.findings, core.vehicles
select findings.vehicle, findings.scanned_at, findings.module, findings.code
from core.findings as findings
join core.vehicles as vehicles on vehicles.vehicle = findings.vehicle
where findings.present and vehicles.in_stock
