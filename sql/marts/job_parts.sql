-- One row per job, part and position that was worked on; the latest row of them speaks for the cost.
-- grain: job_id, work
-- reads: staging.repair_rows, core.jobs, core.job_windows
-- columns:
--   job_id bigint: number of the job, of the one that speaks where several share their scans
--   work varchar: part and position in one text
--   part varchar or blank: the part's one spelling; blank for work on none, as software
--   position varchar: where on the car; empty text where none is given
--   action varchar: replace, repair, clean, adjust or software
--   supplier varchar or blank: who supplied the part
--   part_cents bigint cents or blank: price of the part
--   labour_minutes double minutes or blank: labour to fit it
select
    windows.spoken_by as job_id,
    coalesce(rows.part, '') || ' ' || rows.position as work,
    rows.part,
    rows.position,
    rows.action,
    rows.supplier,
    rows.part_cents,
    rows.labour_minutes
from staging.repair_rows as rows
join core.jobs as jobs on jobs.vehicle = rows.vehicle and jobs.job = rows.job
join core.job_windows as windows on windows.job_id = jobs.job_id
where rows.action not in ('inspect', 'erase')
qualify row_number() over (
    partition by windows.spoken_by, rows.part, rows.position
    order by jobs.parted_at desc, rows.file_id desc, rows.row desc
) = 1
