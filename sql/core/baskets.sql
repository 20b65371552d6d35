-- One row per episode in which the vehicle was scanned.
-- grain: basket
-- reads: core.scan_episodes, core.lines
-- columns:
--   basket bigint: number of the basket
--   vehicle varchar: stock number
--   episode bigint: jobs that the vehicle had before it
--   line varchar: model line that the car is counted in
--   started_at timestamp: first scan
--   ended_at timestamp: last scan
select
    row_number() over (order by episodes.vehicle, episodes.episode) as basket,
    episodes.vehicle,
    episodes.episode,
    any_value(lines.line) as line,
    min(episodes.scanned_at) as started_at,
    max(episodes.scanned_at) as ended_at
from core.scan_episodes as episodes
join core.lines as lines on lines.vehicle = episodes.vehicle
group by episodes.vehicle, episodes.episode
