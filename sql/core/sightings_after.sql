-- One row per job, code that was present before it, and later reading of the code's module.
-- grain: job_id, code, scan_id
-- reads: core.codes_before, core.readings_after, core.findings, reference.modules
-- columns:
--   job_id bigint: number of the job
--   code varchar: code key
--   scan_id bigint: number of the scan
--   scanned_at timestamp: start of the scan
--   days double days: days since the job
--   km double km or blank: shortest distance driven since the last erase, or since job and erase; the job where it is kept
--   state varchar: awake, kept, quiet, lost or silent
--   tested boolean: quiet, and a test or monitor that ran says that the cause is gone
--
-- state of one reading: 'awake', the fault has shown itself since the job; 'kept', it is awake as it was before, and
-- nothing was erased since the last work: it shows what the last test before said, until the next one has run (ISO
-- 14229-1, annex D: the status bit testFailed keeps the result of the latest test); 'quiet', it has not shown itself although the list
-- could have told; 'lost', a line of the module's list was not understood, so that it may have; 'silent' on the question.
-- After an erase whatever is listed has shown itself since. Without one only a code that is awake and was stored only
-- before has, while one that is stored only, but was awake before the job, has been quiet since; a code that was stored
-- already, or has no status, says nothing; nor does one that may have come back between an erase and later work. A list
-- that could not have named the code is silent on it,
-- and so is a permanent code before the car's monitors have run. The monitors speak for the engine's own emission codes
-- only. Without an erase a missing code proves nothing: somebody may have erased it without a word.
with told as (
    select
        before.job_id,
        before.code,
        before.short,
        before.module,
        after.scan_id,
        after.scanned_at,
        after.days,
        after.km,
        after.job_km,
        after.monitors_ready,
        findings.tested,
        case
            when findings.present and (after.erased_last or findings.status in ('active', 'pending'))
                and (not findings.only_permanent or after.monitors_ready is true)
                then if(after.erased_last or (before.asleep and not after.erased), 'awake', 'kept')
            when after.gaps then 'lost'
            when findings.present and findings.only_permanent and after.monitors_ready is not true then 'silent'
            when findings.present and before.awake and not after.erased and findings.status in ('confirmed', 'history')
                then 'quiet'
            when findings.present or not after.erased or findings.tested is false then 'silent'
            when findings.code is null and not list_has_any(after.asked, before.named_by) then 'silent'
            when findings.code is null and not before.current and len(after.asked) < 5 then 'silent'
            else 'quiet'
        end as state,
        after.erased
    from core.codes_before as before
    join core.readings_after as after on after.job_id = before.job_id and after.module = before.module
    left join core.findings as findings on findings.scan_id = after.scan_id and findings.code = before.code
)
select
    told.job_id,
    told.code,
    told.scan_id,
    told.scanned_at,
    told.days,
    if(told.state = 'kept', told.job_km, told.km) as km,
    told.state,
    told.state = 'quiet' and told.erased and (
        coalesce(told.tested, false)
        or coalesce(told.monitors_ready and modules."group" = 'emissions' and told.short like 'P%', false)
    ) as tested
from told
left join reference.modules as modules on modules.module = told.module
