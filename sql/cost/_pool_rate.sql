-- One row per pool and stretch of days of a month that has one rate at which its cost goes into
-- pieces: `rate_cents` for `rate_driver` units. The normal rate is the cost of the twelve whole
-- months before, over that time's driver; with fewer than three months of history, of the months so
-- far and this one (estimated); where credits were more than all bills it is none, for no piece is
-- paid for being made. A budgeted rate is as set, from the day it is set for. No driver, no rate.
-- `span_cents` is the cost of the same months, and how much of it is pay, owners' and others': what
-- is applied is parted as that is, under a budgeted rate too.
-- @key pool, from_on
with driven as (
    select layer, driver_of, month_of(on_date) as month, sum(driver) as driver
    from cost._driver group by layer, driver_of, month_of(on_date)
),

drivers as (
    select pools.pool, pools.layer, driven.month, driven.driver
    from cost._pool_driver as pools
    join driven on driven.layer = pools.layer and driven.driver_of = pools.driver_of
),

names as (
    select distinct pool, layer from cost._pool_in
    union
    select distinct pool, layer from drivers
),

costs as (
    select
        pool, month, sum(cents) as cents,
        coalesce(sum(cents) filter (where origin in ('labour', 'own labour')), 0) as labour_cents,
        coalesce(sum(cents) filter (where origin = 'own labour'), 0) as own_cents
    from cost._pool_in group by pool, month
),

monthly as (
    select
        names.pool, names.layer, month.month, month.number, month.last_on,
        coalesce(costs.cents, 0) as cents, coalesce(costs.labour_cents, 0) as labour_cents,
        coalesce(costs.own_cents, 0) as own_cents, coalesce(drivers.driver, 0) as driver
    from names
    cross join work.month
    left join costs on costs.pool = names.pool and costs.month = month.month
    left join drivers
        on drivers.pool = names.pool and drivers.layer = names.layer and drivers.month = month.month
),

windowed as (
    select
        *,
        sum(cents) over so_far as cents_so_far, sum(driver) over so_far as driver_so_far,
        sum(labour_cents) over so_far as labour_so_far, sum(own_cents) over so_far as own_so_far,
        sum(cents) over year_before as cents_before, sum(driver) over year_before as driver_before,
        sum(labour_cents) over year_before as labour_before,
        sum(own_cents) over year_before as own_before
    from monthly
    window so_far as (partition by pool order by number rows unbounded preceding),
        year_before as (partition by pool order by number rows between 12 preceding and 1 preceding)
),

budgets as (
    select
        name, from_date, rate_cents, row_id, basis = 'budget' as budgeted,
        driver = 'labour cost' as by_labour
    from settings.pool
    union all by name
    select name, from_date, rate_cents, row_id, rate_cents is not null as budgeted
    from settings.machine
),

-- a stretch begins with the month, and where an entry begins within it
begun as (
    select pool, month, month as from_on from windowed
    union
    select windowed.pool, windowed.month, budgets.from_date as from_on
    from windowed
    join budgets on budgets.name = windowed.pool
    where budgets.from_date between windowed.month and windowed.last_on
),

stretches as (
    select
        pool, month, from_on,
        lead(from_on, 1, months_later(month, 1)) over (
            partition by pool, month order by from_on
        ) - 1 as to_on
    from begun
),

ruled as (
    select
        windowed.*, stretches.from_on, stretches.to_on, number <= 3 as young, budgets.row_id,
        coalesce(budgets.budgeted, false) as budgeted, thousandths(budgets.rate_cents) as budget,
        -- a budgeted rate is for one hour, or for one unit of labour cost; of both it stands for a
        -- thousand
        case when budgets.by_labour then 1000 * shop.minor_units else 3600000 end as budget_driver
    from windowed
    join stretches on stretches.pool = windowed.pool and stretches.month = windowed.month
    cross join settings.shop
    asof left join budgets
        on budgets.name = windowed.pool and budgets.from_date <= stretches.from_on
)

select
    pool, layer, month, from_on, to_on, row_id,
    cast(cents as bigint) as cents, cast(own_cents as bigint) as own_cents,
    cast(driver as bigint) as driver,
    case when budgeted then 'budget' when young then 'so far' else 'normal' end as basis,
    cast(case when budgeted then coalesce(budget, 0)
              when young then greatest(cents_so_far, 0)
              else greatest(cents_before, 0) end as bigint) as rate_cents,
    cast(case when budgeted then budget_driver
              when young then driver_so_far
              else driver_before end as bigint) as rate_driver,
    cast(case when young then cents_so_far else cents_before end as bigint) as span_cents,
    cast(case when young then labour_so_far else labour_before end as bigint) as span_labour_cents,
    cast(case when young then own_so_far else own_before end as bigint) as span_own_cents
from ruled
