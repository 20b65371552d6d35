-- One row per code that was ever present on a vehicle, with what is known of it.
-- grain: code
-- reads: core.vehicle_codes, core.findings, core.code_texts, reference.generic_codes, reference.modules
-- columns:
--   code varchar: code key
--   module varchar: canonical name of the control unit
--   short varchar: the code without module and make
--   make varchar or blank: make that the code is scoped to; blank for standard codes
--   text varchar or blank: the commonest export wording, else the generic one
--   component varchar or blank: part that the generic table names
--   points_at varchar or blank: another module that the code tells of
--   role_hint varchar or blank: root, knock-on or either
--   network boolean: U code or failure type 8x: another module is not heard
--   vehicles bigint: cars it was ever present on
--
-- The export's own wording always beats the generic one. network: it tells that another module is not heard.
with seen as (
    select
        codes.code,
        any_value(codes.module) as module,
        any_value(codes.short) as short,
        any_value(codes.make) as make,
        count(*) as vehicles
    from core.vehicle_codes as codes
    group by codes.code
),
bus as (
    select code, bool_or(failure_type like '8%') as on_bus from core.findings group by code
),
addressed as (
    select lost_communication_code as short, min(module) as module from reference.modules group by all
    union
    select invalid_data_code, min(module) from reference.modules group by all
)
select
    seen.code,
    seen.module,
    seen.short,
    seen.make,
    coalesce(texts.text, generic.description) as text,
    generic.component,
    coalesce(generic.points_at, addressed.module) as points_at,
    generic.role_hint,
    seen.short like 'U%' or coalesce(bus.on_bus, false) as network,
    seen.vehicles
from seen
left join bus on bus.code = seen.code
left join core.code_texts as texts on texts.code = seen.code
left join reference.generic_codes as generic on generic.code = seen.short
left join addressed on addressed.short = seen.short
