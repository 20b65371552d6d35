-- One row per vehicle, job and part that was inspected in that job, whatever else was done in it.
-- grain: vehicle, job, part, position
-- reads: staging.repair_rows
-- columns:
--   vehicle varchar: stock number
--   job varchar: job number
--   part varchar: the part's one spelling
--   position varchar: where on the car; empty text where none is given
--   done_at timestamp: when it was done
select
    vehicle,
    job,
    part,
    position,
    max(done_at) as done_at
from staging.repair_rows
where action = 'inspect' and part is not null
group by vehicle, job, part, position
