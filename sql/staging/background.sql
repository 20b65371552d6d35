-- One row per background row that names something to look past, with its spellings normalised.
-- grain: file_id, row
-- reads: raw.background, spelling.vehicles, spelling.codes, spelling.modules, spelling.makes
-- columns:
--   file_id bigint: number of the file, in the order in which files came in
--   row bigint: row in that file
--   vehicle varchar or blank: stock number; blank: every vehicle
--   make_key varchar or blank: make in its one spelling; blank: every make
--   module varchar or blank: canonical name of the control unit; blank: every module
--   short varchar or blank: code without module; blank: every code of the module
--   reason varchar: why the code is looked past
--   until_day date or blank: last day this holds; blank: for good
--
-- A code that cannot be read looks past nothing; marts.rejects names it. Of rows that name the same vehicle, make, module
-- and code the latest speaks, as with the stock list: so a last day is changed, or the looking past taken back.
select
    background.file_id,
    background.row,
    vehicles.vehicle,
    makes.make_key,
    modules.module,
    codes.short,
    background.reason,
    background.until::date as until_day
from raw.background as background
left join spelling.vehicles as vehicles on vehicles.spelling = background.vehicle
left join spelling.makes as makes on makes.spelling = background.make
left join spelling.modules as modules on modules.spelling = background.module
left join spelling.codes as codes on codes.spelling = background.code and codes.given_type = ''
where background.code is null or codes.short is not null
qualify row_number() over (
    partition by vehicles.vehicle, makes.make_key, modules.module, codes.short
    order by background.file_id desc, background.row desc
) = 1
