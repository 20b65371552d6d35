-- One row per background row that names something to look past, with its spellings normalised.
-- grain: file_id, row
-- reads: raw.background, spelling.codes, spelling.modules, spelling.makes
--
-- A code that cannot be read looks past nothing; marts.rejects names it.
select
    background.file_id,
    background.row,
    background.vehicle,
    makes.make_key,
    modules.module,
    codes.short,
    background.reason,
    background.until::date as until_day
from raw.background as background
left join spelling.makes as makes on makes.spelling = background.make
left join spelling.modules as modules on modules.spelling = background.module
left join spelling.codes as codes on codes.spelling = background.code and codes.given_type = ''
where background.code is null or codes.short is not null
