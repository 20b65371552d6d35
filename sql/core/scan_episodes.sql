-- One row per scan, with the number of jobs that the vehicle had before it: its episode.
-- grain: scan_id
-- reads: core.scans, core.jobs
-- columns:
--   scan_id bigint: number of the scan
--   vehicle varchar: stock number
--   scanned_at timestamp: start of the scan
--   episode bigint: jobs that the vehicle had before it
with numbered as (
    select vehicle, parted_at, row_number() over (partition by vehicle order by parted_at, job_id) as jobs_before
    from core.jobs
)
select
    scans.scan_id,
    scans.vehicle,
    scans.scanned_at,
    coalesce(max(numbered.jobs_before), 0) as episode
from core.scans as scans
left join numbered on numbered.vehicle = scans.vehicle and numbered.parted_at < scans.scanned_at
group by scans.scan_id, scans.vehicle, scans.scanned_at
