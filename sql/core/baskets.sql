-- One row per spell in which the vehicle was scanned.
-- grain: basket
-- reads: core.scan_spells, core.lines
select
    row_number() over (order by spells.vehicle, spells.spell) as basket,
    spells.vehicle,
    spells.spell,
    any_value(lines.line) as line,
    min(spells.scanned_at) as started_at,
    max(spells.scanned_at) as ended_at
from core.scan_spells as spells
join core.lines as lines on lines.vehicle = spells.vehicle
group by spells.vehicle, spells.spell
