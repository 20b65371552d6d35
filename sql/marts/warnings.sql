-- One row per thing in the files that can hardly be right, in words; the data are kept as they are.
-- grain: kind, vehicle, at, detail
-- reads: core.moments, core.vin_places, core.strangers, staging.known_vins, raw.scans, raw.files
-- columns:
--   kind varchar: which of the warnings
--   vehicle varchar: stock number
--   at varchar: time of what it is about, as text; empty text where it has none
--   detail varchar: the warning in words
-- params: as_of, odometer_unit, day_format
--
-- at is the time of what the warning is about, or blank text where it has none. One mile is 1.609344 km; an odometer
-- that grows by that much in more than 60 days may as well have been driven. Distances and days are told in the dealer's
-- formatter.
with steps as (
    select *,
        lag(odometer) over following as odometer_before,
        lag(place) over following as place_before,
        lag(happened_at) over following as happened_before
    from core.moments
    where odometer is not null
    window following as (partition by vehicle order by happened_at, kind desc, job)
),
named as (
    select *, if($odometer_unit = 'mi', 1.609344, 1) as unit,
        vehicle || ': ' || place || ' has ' || round(odometer / unit)::bigint || ' ' || $odometer_unit || ' after '
        || round(odometer_before / unit)::bigint || ' ' || $odometer_unit || ' in ' || place_before as said
    from steps
)
select 'odometer runs back' as kind, vehicle, strftime(happened_at, '%Y-%m-%d %H:%M:%S') as "at",
    said || '; one of them is wrong, or the cluster was changed' as detail
from named
where odometer < odometer_before - 1 and not odometer_before / odometer between 1.6 and 1.62
union all
select 'km and miles', vehicle, strftime(happened_at, '%Y-%m-%d %H:%M:%S'),
    said || ', which is as far apart as km and miles; one of them may lack its odometer_unit'
from named
where odometer_before > 1000 and greatest(odometer / odometer_before, odometer_before / odometer) between 1.6 and 1.62
    and (odometer < odometer_before or happened_at < happened_before + interval 60 days)
union all
select 'in the future', vehicle, strftime(written_at, '%Y-%m-%d %H:%M:%S'),
    vehicle || ': ' || place || ' has a ' || kind || ' on ' || strftime(written_at, $day_format) || ', after the day of this report'
from core.moments
where written_at::date > $as_of::date
union all
select 'left out', coalesce(scans.vehicle, scans.vin), scans.scanned_at,
    min(files.name || ' row ' || scans.row) || ' has a scan of ' || coalesce(scans.vehicle, scans.vin) || ' on '
        || strftime(scans.scanned_at::timestamp, $day_format)
        || ', more than a day ahead of this report: left out until that day. If the date is wrong, mend the file'
from raw.scans as scans
join raw.files as files on files.file_id = scans.file_id
where scans.scanned_at::timestamp >= $as_of::date + interval 2 day
group by coalesce(scans.vehicle, scans.vin), scans.scanned_at
union all
select 'two vehicle numbers', vehicle, '',
    vehicle || ' stands with ' || string_agg(vin || ' (' || place || ')', ' and ' order by vin)
        || '; one stock number means one car'
from core.vin_places
group by vehicle
having count(*) > 1
union all
select 'two stock numbers', min(vehicle), '',
    vin || ' stands under ' || string_agg(vehicle || ' (' || place || ')', ' and ' order by vehicle)
        || '; their scans and jobs are not put together'
from core.vin_places
group by vin
having count(*) > 1
union all
select 'not in the stock list', vehicle, '', vehicle || ': ' || seen_in || ', but the stock list does not know it'
from core.strangers
union all
select 'vehicle number not in the stock list', '', '',
    count(*) || if(count(*) = 1, ' row', ' rows') || ' of scans in ' || min(files.name)
        || if(count(distinct scans.file_id) > 1, ' and other files', '')
        || ' name the car by its vehicle number alone, and the stock list does not know it (' || min(upper(scans.vin))
        || if(count(distinct upper(scans.vin)) > 1, ' and ' || (count(distinct upper(scans.vin)) - 1) || ' more', '')
        || '): they count as soon as it does. Put a list with the columns vehicle and vin into inbox/stock'
from raw.scans as scans
join raw.files as files on files.file_id = scans.file_id
left join staging.known_vins as known_vins on known_vins.vin = upper(scans.vin)
where scans.vehicle is null and known_vins.vin is null
having count(*) > 0
