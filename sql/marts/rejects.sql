-- One row per cell or file that was refused and is still so.
-- grain: file, row, column, value, why
-- reads: raw.files, raw.rejects, raw.scans, raw.background, staging.known_vins, spelling.codes
-- columns:
--   file varchar: name below the inbox
--   row bigint: row in that file; 0 for a whole file
--   column varchar: column of the cell; empty text for a row or file
--   value varchar: the cell as it stands; empty text where it is blank
--   why varchar: what was expected and what became of the rest
-- params: week
--
-- What a reader refused is listed in the week of its file; what later knowledge may still mend (a vehicle number that
-- the stock list does not know yet, a code that is no code) is listed until it is mended.
with unread as (
    select
        scans.file_id,
        scans.row,
        'code' as "column",
        scans.code || coalesce(' ' || scans.failure_type, '') as value,
        codes.why || '. The row counts as read, without a code.' as why
    from raw.scans as scans
    join spelling.codes as codes
        on codes.spelling = scans.code and codes.given_type = coalesce(scans.failure_type, '')
    where codes.why is not null
    union all
    select background.file_id, background.row, 'code', background.code, codes.why || '. The row leaves nothing alone.'
    from raw.background as background
    join spelling.codes as codes on codes.spelling = background.code and codes.given_type = ''
    where codes.why is not null
    union all
    select scans.file_id, scans.row, 'vehicle', coalesce(scans.vin, ''),
        'blank, and the stock list has no single vehicle with this vehicle number. The row waits until it has.'
    from raw.scans as scans
    left join staging.known_vins as known_vins on known_vins.vin = upper(scans.vin)
    where scans.vehicle is null and known_vins.vin is null
)
select distinct files.name as file, coalesce(refused.row, 0) as row, coalesce(refused."column", '') as "column",
    coalesce(refused.value, '') as value, refused.why
from (
    select rejects.file_id, rejects.row, rejects."column", rejects.value,
        rejects.why || if(rejects.row is null, '', '. The row was left out, the others of its file were not.') as why
    from raw.rejects as rejects
    join raw.files as files on files.file_id = rejects.file_id and files.week = $week
    union all
    select file_id, row, "column", value, why from unread
) as refused
join raw.files as files on files.file_id = refused.file_id
