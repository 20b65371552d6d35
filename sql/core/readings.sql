-- One row per scan and module that answered.
-- grain: scan_id, module
-- reads: staging.scan_rows, core.scans, raw.files
-- columns:
--   scan_id bigint: number of the scan
--   vehicle varchar: stock number
--   scanned_at timestamp: start of the scan
--   module varchar: canonical name of the control unit
--   complete boolean: every line of some list of the module was understood
--   asked varchar[]: kinds of codes that the complete lists together could have named
--   gaps boolean: of some list neither it nor the same list of another file was understood wholly
--   whole boolean: a standing fault's code could not have been missed: complete, and active or stored asked for
--
-- A list is what one file says that the module was asked for and answered. complete is false where a line of every such
-- list was not understood: then nothing can be said of absent codes. asked holds the kinds of codes that the complete
-- lists together could have named: a code of any other kind is not known to be absent. A row that calls a whole car
-- clean is a list of each module that answered in an earlier scan of the car in a file read by the same mapping, which
-- one device wrote: of what another device reads it says nothing. Sets of kinds are added up as bits: a tenth of the time
-- that lists of words take.
with words as (
    select unnest(['active', 'stored', 'pending', 'permanent', 'history']) as word, unnest([1, 2, 4, 8, 16]) as bit
),
sets as (
    select bits, coalesce(list(word order by word) filter (where bits & bit > 0), []) as asked
    from range(32) as numbers(bits)
    cross join words
    group by bits
),
answered as (
    select
        scans.scan_id, rows.vehicle, rows.scanned_at, rows.module, rows.file_id, rows.complete, rows.clean_car,
        list_contains(rows.asked, 'active')::utinyint + 2 * list_contains(rows.asked, 'stored')::utinyint
            + 4 * list_contains(rows.asked, 'pending')::utinyint + 8 * list_contains(rows.asked, 'permanent')::utinyint
            + 16 * list_contains(rows.asked, 'history')::utinyint as bits
    from staging.scan_rows as rows
    join core.scans as scans on scans.vehicle = rows.vehicle and scans.scanned_at = rows.scanned_at
    where not rows.silent
),
ways as (
    select file_id, list_filter(notes, lambda note: note like 'read by %')[1] as way
    from raw.files
),
cleaned as (
    select answered.*, ways.way from answered join ways on ways.file_id = answered.file_id where clean_car
),
clean_units as (
    select distinct clean.scan_id, units.module, clean.file_id, clean.bits, clean.complete
    from cleaned as clean
    join answered as units on units.vehicle = clean.vehicle and units.scanned_at < clean.scanned_at
    join ways on ways.file_id = units.file_id and ways.way = clean.way
    where not units.clean_car
),
lists as (
    select scan_id, module, file_id, bits, bool_and(complete) as complete
    from (
        select scan_id, module, file_id, bits, complete from answered
        union all
        select scan_id, module, file_id, bits, complete from clean_units
    )
    group by scan_id, module, file_id, bits
),
kinds as (
    select scan_id, module, bits, bool_or(complete) as complete
    from lists
    group by scan_id, module, bits
),
readings as (
    select
        scan_id,
        module,
        bool_or(complete) as complete,
        coalesce(bit_or(bits) filter (where complete), 0) as bits,
        not bool_and(complete) as gaps
    from kinds
    group by scan_id, module
)
select
    scans.scan_id,
    scans.vehicle,
    scans.scanned_at,
    readings.module,
    readings.complete,
    sets.asked,
    readings.gaps,
    list_has_any(sets.asked, ['active', 'stored']) as whole
from readings
join core.scans as scans on scans.scan_id = readings.scan_id
join sets on sets.bits = readings.bits
