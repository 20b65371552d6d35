-- One row per job, with the file that told of it first.
-- grain: job_id
-- reads: core.jobs, staging.repair_rows
-- columns:
--   job_id bigint: number of the job
--   file_id bigint: number of the file; a run that read only files before it cannot have known the job
select jobs.job_id, min(rows.file_id) as file_id
from core.jobs as jobs
join staging.repair_rows as rows on rows.vehicle = jobs.vehicle and rows.job = jobs.job
group by jobs.job_id
