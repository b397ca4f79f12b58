-- One row per calendar month from the start of the records to the last day that any record names.
-- The last record stands for today, so that the same files always give the same figures.
-- @key month
with shop as (select start from settings.shop),

last_days as (
    select max(on_date) as on_date from records.purchases
    union all select max(on_date) from records.hours
    union all select max(on_date) from records.pours
    union all select max(on_date) from records.usage
    union all select max(on_date) from records.sales
    union all select max(on_date) from records.inspections
    union all select max(on_date) from records.counts
    union all select max(on_date) from records.payments
    union all select max(greatest(on_date, cancelled)) from records.orders
    union all select max(on_date) from records.moves
    union all select max(greatest(started, finished, ended, listed)) from records.pieces
),

span as (
    select max(last_days.on_date) as last_record_on, month_of(min(shop.start)) as first_month, month_of(greatest(max(last_days.on_date), min(shop.start))) as last_month
    from shop, last_days
),

months as (
    select cast(unnest(generate_series(first_month, last_month, interval 1 month)) as date) as month, last_record_on from span
)

select month, last_day(month) as last_on, cast(row_number() over (order by month) as bigint) as number,
    coalesce(last_day(month) <= last_record_on, false) as whole
from months
