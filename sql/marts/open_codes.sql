-- One row per stock vehicle and code that its module's last reading since the last erase lists as present.
-- grain: vehicle, code
-- reads: core.open_readings, core.findings, core.vehicle_codes, core.masked_codes
-- columns:
--   vehicle varchar: stock number
--   module varchar: canonical name of the control unit
--   code varchar: code key
--   first_seen timestamp: first scan that lists it
--   last_seen timestamp: last scan that lists it
--   status varchar: the status word; empty text where there is none
--   background varchar or blank: why it is looked past; blank where it counts
-- params: as_of
select
    readings.vehicle,
    readings.module,
    findings.code,
    seen.first_seen,
    seen.last_seen,
    findings.status,
    masked.reason as background
from core.open_readings as readings
join core.findings as findings on findings.scan_id = readings.scan_id and findings.module = readings.module
join core.vehicle_codes as seen on seen.vehicle = readings.vehicle and seen.code = findings.code
left join core.masked_codes as masked
    on masked.vehicle = readings.vehicle and masked.code = findings.code and $as_of::date <= masked.until_day
where findings.present
