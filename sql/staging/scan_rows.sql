-- One row per row of a scan file whose vehicle is known, with its spellings normalised and its numbers cast.
-- grain: file_id, row, nth
-- reads: raw.scans, staging.known_vins, staging.stock, spelling.vehicles, spelling.codes, spelling.modules, spelling.statuses
-- columns:
--   file_id bigint: number of the file, in the order in which files came in
--   row bigint: row in that file
--   nth bigint: which of the rows that one row of the file makes, from 1
--   vehicle varchar: stock number
--   scanned_at timestamp: start of the scan
--   odometer double km or blank: odometer
--   module varchar: canonical name of the control unit
--   clean_car boolean: it says of the whole car that no code is stored, and names no control unit
--   silent boolean: the module was asked and gave no answer
--   refused varchar or blank: why the code's text is no code
--   asked varchar[]: kinds of codes that the row's list could have named: active, stored, pending, permanent, history
--   complete boolean: every line of the row's list was understood
--   short varchar or blank: the code without module and make
--   code varchar or blank: code key; blank where the row lists no code
--   make varchar or blank: make that the code is scoped to; blank for standard codes
--   failure_type varchar or blank: failure type, two hex digits
--   present boolean: the status records a fault, or there is no status
--   tested boolean or blank: the test has run; blank where the status does not say
--   status varchar: the status word; empty text where there is none
--   first_odometer double km or blank: odometer when the code was first stored
--   text varchar or blank: the export's own wording
--   km_since_erase double km or blank: distance since codes were erased, as the car tells it
--   monitors_ready boolean or blank: every readiness monitor that the car has is complete
-- params: odometer_unit, as_of
--
-- nth counts the rows that one row of a file makes. refused holds why a code's text was no code: the row then only tells
-- that the module's list is incomplete. asked holds what kinds of codes the row's list could have named; complete is
-- false where a line of that list was not understood. A row dated more than a day ahead of the report waits for its day.
select
    scans.file_id,
    scans.row,
    coalesce(scans.nth, 1) as nth,
    coalesce(vehicles.vehicle, known_vins.vehicle) as vehicle,
    scans.scanned_at::timestamp as scanned_at,
    scans.odometer::double * if(coalesce(scans.odometer_unit, $odometer_unit) = 'mi', 1.609344, 1) as odometer,
    modules.module,
    scans.module = 'whole car clean' as clean_car,
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
left join spelling.vehicles as vehicles on vehicles.spelling = scans.vehicle
left join staging.known_vins as known_vins on scans.vehicle is null and known_vins.vin = upper(scans.vin)
left join staging.stock as stock on stock.vehicle = coalesce(vehicles.vehicle, known_vins.vehicle)
join spelling.modules as modules on modules.spelling = scans.module
left join spelling.codes as codes
    on codes.spelling = scans.code and codes.given_type = coalesce(scans.failure_type, '')
left join spelling.statuses as statuses on statuses.spelling = scans.status
where coalesce(vehicles.vehicle, known_vins.vehicle) is not null
    and scans.scanned_at::timestamp < $as_of::date + interval 2 day
