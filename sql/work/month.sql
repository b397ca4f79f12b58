-- One row per calendar month from the start of the records to the last day that any record names.
-- The last record stands for today, so that the same files always give the same figures.
-- @key month
with shop as (select start from settings.shop),

recorded as (select distinct month_of(on_date) as month from work.recorded_day),

span as (
    select
        max(recorded_day.on_date) as last_record_on, month_of(min(shop.start)) as first_month,
        month_of(greatest(max(recorded_day.on_date), min(shop.start))) as last_month
    from shop left join work.recorded_day on true
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
