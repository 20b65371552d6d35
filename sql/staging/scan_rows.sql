-- One row per row of a scan file whose vehicle is known, with its spellings normalised and its numbers cast.
-- grain: file_id, row
-- reads: raw.scans, staging.known_vins, staging.stock, spelling.codes, spelling.modules, spelling.statuses
-- params: odometer_unit
--
-- refused holds why a code's text was no code: the row then only tells that the module's list is incomplete.
select
    scans.file_id,
    scans.row,
    coalesce(scans.vehicle, known_vins.vehicle) as vehicle,
    scans.scanned_at::timestamp as scanned_at,
    scans.odometer::double * if(coalesce(scans.odometer_unit, $odometer_unit) = 'mi', 1.609344, 1) as odometer,
    modules.module,
    coalesce(scans.module_state, 'read') = 'silent' and scans.code is null as silent,
    codes.why as refused,
    codes.short,
    modules.module || ':' || codes.short
        || if(codes.scoped, '@' || coalesce(stock.make_key, 'unknown'), '') as code,
    if(codes.scoped, coalesce(stock.make_key, 'unknown'), null) as make,
    codes.failure_type,
    coalesce(statuses.present, true) as present,
    statuses.tested,
    coalesce(statuses.word, '') as status,
    scans.first_odometer::double * if(coalesce(scans.odometer_unit, $odometer_unit) = 'mi', 1.609344, 1)
        as first_odometer,
    scans.text,
    scans.km_since_erase::double as km_since_erase,
    scans.monitors_ready::boolean as monitors_ready
from raw.scans as scans
left join staging.known_vins as known_vins on scans.vehicle is null and known_vins.vin = upper(scans.vin)
left join staging.stock as stock on stock.vehicle = coalesce(scans.vehicle, known_vins.vehicle)
join spelling.modules as modules on modules.spelling = scans.module
left join spelling.codes as codes
    on codes.spelling = scans.code and codes.given_type = coalesce(scans.failure_type, '')
left join spelling.statuses as statuses on statuses.spelling = scans.status
where coalesce(scans.vehicle, known_vins.vehicle) is not null
