-- One row per stock vehicle, scan and code that was present in it: the car's story.
-- grain: vehicle, scanned_at, code
-- reads: core.findings, core.vehicles
-- columns:
--   vehicle varchar: stock number
--   scanned_at timestamp: start of the scan
--   module varchar: canonical name of the control unit
--   code varchar: code key that was present
select findings.vehicle, findings.scanned_at, findings.module, findings.code
from core.findings as findings
join core.vehicles as vehicles on vehicles.vehicle = findings.vehicle
where findings.present and vehicles.in_stock
