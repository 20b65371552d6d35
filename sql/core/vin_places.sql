-- One row per vehicle and vehicle number that stand together in a scan or in the stock list as it is now.
-- grain: vehicle, vin
-- reads: raw.scans, raw.stock, spelling.vehicles, staging.stock, raw.files
-- columns:
--   vehicle varchar: stock number
--   vin varchar: vehicle identification number, upper case
--   place varchar: file and row that name it
with places as (
    select vehicles.vehicle, upper(scans.vin) as vin, scans.file_id, scans.row
    from raw.scans as scans
    join spelling.vehicles as vehicles on vehicles.spelling = scans.vehicle
    where scans.vin is not null
    union all
    select written.vehicle, upper(written.vin), written.file_id, written.row
    from raw.stock as written
    join staging.stock as stock on stock.vehicle = written.vehicle and stock.vin = written.vin
)
select places.vehicle, places.vin, min(files.name || ' row ' || places.row) as place
from places
join raw.files as files on files.file_id = places.file_id
group by places.vehicle, places.vin
