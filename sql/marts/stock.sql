-- One row per vehicle in stock; a scanned vehicle that the stock list does not know counts as in stock.
-- grain: vehicle
-- reads: core.vehicles, core.lines
-- columns:
--   vehicle varchar: stock number
--   make varchar or blank: who made the car; blank where the stock list does not know it
--   model varchar or blank: model line; blank where the stock list does not know it
--   line varchar: model line that the car is counted in
select vehicles.vehicle, vehicles.make, vehicles.model, lines.line
from core.vehicles as vehicles
join core.lines as lines on lines.vehicle = vehicles.vehicle
where vehicles.in_stock
