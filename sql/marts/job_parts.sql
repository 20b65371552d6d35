-- One row per job, part and position that was worked on; the latest row of them speaks for the cost.
-- grain: job_id, work
-- reads: staging.repair_rows, core.jobs
select
    jobs.job_id,
    coalesce(rows.part, '') || ' ' || rows.position as work,
    rows.part,
    rows.position,
    rows.action,
    rows.supplier,
    rows.part_cents,
    rows.labour_minutes
from staging.repair_rows as rows
join core.jobs as jobs on jobs.vehicle = rows.vehicle and jobs.job = rows.job
where rows.action not in ('inspect', 'erase')
qualify row_number() over (
    partition by jobs.job_id, rows.part, rows.position order by rows.file_id desc, rows.row desc
) = 1
