-- One row per calendar month from the start of the records to the last day that any record names.
-- The last record stands for today, so that the same files always give the same figures.
-- @key month
with shop as (select start from settings.shop),

days as (
    select on_date from records.purchases
    union select on_date from records.hours
    union select on_date from records.pours
    union select on_date from records.usage
    union select on_date from records.sales
    union select on_date from records.inspections
    union select on_date from records.counts
    union select on_date from records.payments
    union select unnest([on_date, cancelled]) from records.orders
    union select on_date from records.moves
    union select unnest([started, finished, ended, listed]) from records.pieces
),

recorded as (select distinct month_of(on_date) as month from days),

span as (
    select
        max(days.on_date) as last_record_on, month_of(min(shop.start)) as first_month,
        month_of(greatest(max(days.on_date), min(shop.start))) as last_month
    from shop left join days on true
),

months as (
    select
        cast(unnest(generate_series(first_month, last_month, interval 1 month)) as date) as month,
        last_record_on
    from span
)

select
    months.month, last_day(months.month) as last_on,
    cast(row_number() over (order by months.month) as bigint) as number,
    coalesce(last_day(months.month) <= last_record_on, false) as whole,
    recorded.month is not null as recorded
from months
left join recorded on recorded.month = months.month
