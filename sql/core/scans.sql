-- One row per scan: one vehicle at one start time.
-- grain: scan_id
-- reads: staging.scan_rows
-- columns:
--   scan_id bigint: number of the scan
--   vehicle varchar: stock number
--   scanned_at timestamp: start of the scan
--   odometer double km or blank: odometer
--   km_since_erase double km or blank: distance since codes were erased, as the car tells it
--   monitors_ready boolean or blank: every readiness monitor that the car has is complete
--
-- What the car says of itself is the most cautious of what its rows say.
select
    row_number() over (order by vehicle, scanned_at) as scan_id,
    vehicle,
    scanned_at,
    max(odometer) as odometer,
    min(km_since_erase) as km_since_erase,
    bool_and(monitors_ready) as monitors_ready
from staging.scan_rows
group by vehicle, scanned_at
