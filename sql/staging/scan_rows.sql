-- One row per row of a scan file whose vehicle is known, with its spellings normalised and its numbers cast.
-- grain: file_id, row, nth
-- reads: raw.scans, staging.known_vins, staging.stock, spelling.codes, spelling.modules, spelling.statuses
-- params: odometer_unit, as_of
--
-- nth counts the rows that one row of a file makes. refused holds why a code's text was no code: the row then only tells
-- that the module's list is incomplete. asked holds what kinds of codes the row's list could have named; complete is
-- false where a line of that list was not understood. A row dated more than a day ahead of the report waits for its day.
select
    scans.file_id,
    scans.row,
    coalesce(scans.nth, 1) as nth,
    coalesce(scans.vehicle, known_vins.vehicle) as vehicle,
    scans.scanned_at::timestamp as scanned_at,
    scans.odometer::double * if(coalesce(scans.odometer_unit, $odometer_unit) = 'mi', 1.609344, 1) as odometer,
    modules.module,
    coalesce(scans.module_state, 'read') = 'silent' and scans.code is null as silent,
    codes.why as refused,
    string_split(coalesce(scans.asked, 'active;stored;pending;permanent;history'), ';') as asked,
    coalesce(scans.complete, 'true') = 'true' and codes.why is null as complete,
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
    and scans.scanned_at::timestamp < $as_of::date + interval 2 day
