-- One row per vehicle and code that came back after every erase and every repair while those repairs cleared others.
-- grain: vehicle, code
-- reads: core.seen_after, core.jobs
-- columns:
--   vehicle varchar: stock number
--   code varchar: code key
--   reason varchar: why the code is masked
-- params: road_test_km
--
-- Three returns at least and never once quiet; and one of those jobs cleared another code over a road test, so the code
-- outlives work that did work. Without that last demand a fault that nobody has found yet would be masked.
with survived as (
    select seen.vehicle, seen.code
    from core.seen_after as seen
    join core.jobs as jobs on jobs.job_id = seen.job_id
    where jobs.erased and seen.looked
    group by seen.vehicle, seen.code
    having count(*) filter (where seen.seen) >= 3 and bool_and(seen.seen)
)
select survived.vehicle, survived.code, 'came back after every erase and repair' as reason
from survived
join core.seen_after as own
    on own.vehicle = survived.vehicle and own.code = survived.code and own.seen
join core.seen_after as other
    on other.job_id = own.job_id and not other.seen and other.absent_km >= $road_test_km
group by survived.vehicle, survived.code
