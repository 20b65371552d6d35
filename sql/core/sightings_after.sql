-- One row per job, code that was present before it, and later reading of the code's module.
-- grain: job_id, code, scan_id
-- reads: core.codes_before, core.readings_after, core.findings, reference.modules, fitted.proof_distances
-- columns:
--   job_id bigint: number of the job
--   code varchar: code key
--   scan_id bigint: number of the scan
--   days double days: days since the job
--   km double km or blank: shortest distance driven since job and erase
--   verdict varchar: seen, proven or silent
-- params: road_test_km
--
-- verdict of one reading: 'seen', 'proven' absent, or 'silent' on the question. A list that could not have named the code
-- is silent on it.
-- A permanent code before the car's monitors have run is no failed repair. The monitors speak for the engine's own
-- emission codes only. Without an erase a missing code proves nothing. How far to drive is the dealer's setting until
-- enough returns of the code have been seen to fit it.
select
    before.job_id,
    before.code,
    after.scan_id,
    after.days,
    after.km,
    case
        when findings.present and findings.only_permanent and after.monitors_ready is not true then 'silent'
        when findings.present then 'seen'
        when not after.complete or not after.erased or findings.tested is false then 'silent'
        when findings.code is null and not list_has_any(after.asked, before.named_by) then 'silent'
        when after.km >= coalesce(fitted.proof_km, $road_test_km) then 'proven'
        when findings.tested then 'proven'
        when after.monitors_ready and modules."group" = 'emissions' and before.short like 'P%' then 'proven'
        else 'silent'
    end as verdict
from core.codes_before as before
join core.readings_after as after on after.job_id = before.job_id and after.module = before.module
left join core.findings as findings on findings.scan_id = after.scan_id and findings.code = before.code
left join fitted.proof_distances as fitted on fitted.code = before.code
left join reference.modules as modules on modules.module = before.module
