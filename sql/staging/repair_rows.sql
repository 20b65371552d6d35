-- One row per row of a repair file, with parts and positions in their one spelling.
-- grain: file_id, row, nth
-- reads: raw.repairs, spelling.vehicles, spelling.parts, spelling.positions
-- columns:
--   file_id bigint: number of the file, in the order in which files came in
--   row bigint: row in that file
--   nth bigint: which of the rows that one row of the file makes, from 1
--   vehicle varchar: stock number
--   job varchar: job number
--   done_at timestamp: when it was done
--   date_only boolean: the file gives the day without a time
--   odometer double km or blank: odometer
--   action varchar: replace, repair, clean, adjust, software, inspect or erase
--   part varchar or blank: the part's one spelling
--   position varchar: where on the car; empty text where none is given
--   supplier varchar or blank: who supplied the part
--   part_cents bigint cents or blank: price of the part
--   labour_minutes double minutes or blank: labour of this row
-- params: odometer_unit
select
    repairs.file_id,
    repairs.row,
    coalesce(repairs.nth, 1) as nth,
    vehicles.vehicle,
    repairs.job,
    repairs.done_at::timestamp as done_at,
    length(repairs.done_at) = 10 as date_only,
    repairs.odometer::double * if(coalesce(repairs.odometer_unit, $odometer_unit) = 'mi', 1.609344, 1) as odometer,
    repairs.action,
    parts.part,
    coalesce(positions.position, '') as position,
    replace(repairs.supplier, ';', ',') as supplier,
    round(repairs.part_cost::double * 100)::bigint as part_cents,
    repairs.labour_minutes::double as labour_minutes
from raw.repairs as repairs
join spelling.vehicles as vehicles on vehicles.spelling = repairs.vehicle
left join spelling.parts as parts on parts.spelling = repairs.part
left join spelling.positions as positions on positions.spelling = repairs.position
