-- One row per basket and module that was read in it at least once.
-- grain: basket, module
-- reads: core.baskets, core.scan_spells, core.readings
select distinct baskets.basket, readings.module
from core.readings as readings
join core.scan_spells as spells on spells.scan_id = readings.scan_id
join core.baskets as baskets on baskets.vehicle = spells.vehicle and baskets.spell = spells.spell
