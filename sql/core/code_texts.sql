-- One row per code that some export put into words: its commonest wording.
-- grain: code
-- reads: staging.scan_rows
-- columns:
--   code varchar: code key
--   text varchar: the export's own wording
select code, text
from staging.scan_rows
where code is not null and text is not null
group by code, text
qualify row_number() over (partition by code order by count(*) desc, text) = 1
