-- One row per vehicle and vehicle number that stand together in a scan or in the stock list as it is now.
-- grain: vehicle, vin
-- reads: raw.scans, raw.stock, staging.stock, raw.files
-- columns:
--   vehicle varchar: stock number
--   vin varchar: vehicle identification number, upper case
--   place varchar: file and row that name it
with places as (
    select vehicle, upper(vin) as vin, file_id, row from raw.scans where vehicle is not null and vin is not null
    union all
    select written.vehicle, upper(written.vin), written.file_id, written.row
    from raw.stock as written
    join staging.stock as stock on stock.vehicle = written.vehicle and stock.vin = written.vin
)
select places.vehicle, places.vin, min(files.name || ' row ' || places.row) as place
from places
join raw.files as files on files.file_id = places.file_id
group by places.vehicle, places.vin
