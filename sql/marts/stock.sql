-- One row per vehicle in stock; a scanned vehicle that the stock list does not know counts as in stock.
-- grain: vehicle
-- reads: core.vehicles, core.lines
select vehicles.vehicle, vehicles.make, vehicles.model, lines.line
from core.vehicles as vehicles
join core.lines as lines on lines.vehicle = vehicles.vehicle
where vehicles.in_stock
