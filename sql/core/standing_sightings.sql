-- One row per scan and code that the scan lists as present, with the moment at which a later list took it back.
-- grain: scan_id, code
-- reads: core.findings, core.readings
-- columns:
--   scan_id bigint: number of the scan
--   vehicle varchar: stock number
--   scanned_at timestamp: start of the scan
--   module varchar: canonical name of the control unit
--   code varchar: code key
--   short varchar: the code without module and make
--   status varchar: the strongest status word; empty text where there is none
--   named_by varchar[]: kinds of lists that name a code of this state; only from one of these can it be absent
--   awake boolean: it was active or pending, not stored only
--   taken_back timestamp or blank: the first later scan whose list could have named it and did not; blank: none did
--
-- A later list takes a code back only where all its lines were understood and it could have named a code of that state.
with present as (
    select
        scan_id, vehicle, scanned_at, module, code, short, status,
        case status
            when 'pending' then ['pending']
            when 'permanent' then ['permanent']
            when 'active' then ['active', 'stored']
            when 'history' then ['history', 'stored']
            else ['stored']
        end as named_by,
        status in ('active', 'pending') as awake
    from core.findings
    where present
)
select
    present.scan_id,
    present.vehicle,
    present.scanned_at,
    present.module,
    present.code,
    any_value(present.short) as short,
    any_value(present.status) as status,
    any_value(present.named_by) as named_by,
    any_value(present.awake) as awake,
    min(later.scanned_at) filter (where not coalesce(again.present, false) and coalesce(again.tested, true)) as taken_back
from present
left join core.readings as later
    on later.vehicle = present.vehicle and later.module = present.module and later.scanned_at > present.scanned_at
    and later.complete and list_has_any(later.asked, present.named_by)
left join core.findings as again on again.scan_id = later.scan_id and again.code = present.code
group by present.scan_id, present.vehicle, present.scanned_at, present.module, present.code
