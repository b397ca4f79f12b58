-- One row for the month that is not over: how much of it is known.
-- The last record stands for today. But what a till or a shop sells online comes in late: where no
-- sale is on record for longer than nine in ten of the shop's waits between days with sales, the days
-- after that wait are still to come. Rent, bills and machines are a cost of the whole month on its
-- first day: `ahead_cents` is what of them belongs to the days to come.
-- @key month
-- @check known_share > 0 and known_share < 1
with running as (select month, last_on from work.month where not whole),

today as (select max(on_date) as on_date from work.recorded_day),

sold as (select distinct on_date from records.sales where quantity > 0),

waits as (
    select on_date, lead(on_date) over (order by on_date) - on_date as days from sold
),

usual as (
    select max(on_date) as last_sale_on, quantile_disc(days, 0.9) as days from waits having max(days) > 0
),

pools as (select month, sum(cents) as cents from cost.pool_rate group by month),

known as (
    select
        running.month, day(running.last_on) as all_days, coalesce(pools.cents, 0) as pool_cents,
        least(today.on_date, usual.last_sale_on + cast(usual.days as integer)) as known_to
    from running
    cross join today
    cross join usual
    left join pools on pools.month = running.month
)

select
    month, known_to, day(known_to) / all_days as known_share,
    cast(cut(pool_cents, all_days - day(known_to), all_days) as bigint) as ahead_cents
from known where known_to >= month
