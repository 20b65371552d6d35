-- One row per stock vehicle, job and piece of work: the car's story, each job for itself.
-- grain: vehicle, job, work
-- reads: staging.repair_rows, core.jobs, core.vehicles
-- columns:
--   vehicle varchar: stock number
--   done_at timestamp: when it was done
--   job varchar: job number
--   work varchar: part and position in one text; empty text where nothing but codes was erased
--   erased boolean: codes were erased
--   action varchar or blank: replace, repair, clean, adjust or software; blank where nothing but codes was erased
--   part varchar or blank: the part's one spelling; blank for work on none, as software
--   position varchar or blank: where on the car; empty text where none is given
select
    jobs.vehicle,
    jobs.done_at,
    jobs.job,
    coalesce(coalesce(rows.part, '') || ' ' || rows.position, '') as work,
    jobs.erased,
    rows.action,
    rows.part,
    rows.position
from core.jobs as jobs
join core.vehicles as vehicles on vehicles.vehicle = jobs.vehicle and vehicles.in_stock
left join staging.repair_rows as rows
    on rows.vehicle = jobs.vehicle and rows.job = jobs.job and rows.action not in ('inspect', 'erase')
where jobs.changes
qualify row_number() over (
    partition by jobs.job_id, rows.part, rows.position order by rows.file_id desc, rows.row desc
) = 1
