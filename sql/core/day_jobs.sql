-- One row per job that is known by its day only, with the time at which the day is parted into before and after.
-- grain: vehicle, job
-- reads: staging.repair_rows, core.scans
-- columns:
--   vehicle varchar: stock number
--   job varchar: job number
--   parted_at timestamp: last moment that counts as before
--
-- Scans of that day at a lower odometer came before, and so did the first scan at the job's own odometer; without
-- odometers the day's first scan is taken as the one before. With no scan on that day, noon.
with jobs as (
    select vehicle, job, max(done_at) as day, max(odometer) as odometer
    from staging.repair_rows
    group by vehicle, job
    having bool_and(date_only)
)
select
    jobs.vehicle,
    jobs.job,
    coalesce(
        greatest(
            max(scans.scanned_at) filter (where scans.odometer < jobs.odometer - 0.5),
            min(scans.scanned_at) filter (where abs(scans.odometer - jobs.odometer) <= 0.5)
        ),
        min(scans.scanned_at) filter (where scans.odometer is null or jobs.odometer is null),
        if(count(scans.scan_id) > 0, jobs.day, jobs.day + interval 12 hour)
    ) as parted_at
from jobs
left join core.scans as scans on scans.vehicle = jobs.vehicle and scans.scanned_at::date = jobs.day::date
group by jobs.vehicle, jobs.job, jobs.day, jobs.odometer
