-- A record from before the day that the shop's records begin: no rate or rule is in force for it.
-- @severity warning
with days as (
    select 'purchases' as record, on_date from records.purchases
    union all select 'hours', on_date from records.hours
    union all select 'pours', on_date from records.pours
    union all select 'usage', on_date from records.usage
    union all select 'sales', on_date from records.sales
)

select
    days.record, count(*) as records, min(days.on_date) as first_on, any_value(shop.start) as start
from days cross join settings.shop
where days.on_date < shop.start
group by days.record
