-- One row per pool, stretch of work, piece and origin: machine and overhead cost going into the
-- piece at the day's rate. What has been applied so far at that rate is cut by what the pool is
-- made of: pay first, then the owners' part of the pay. Both cuts rise with what is applied, so
-- that no part of a row is negative and all add up to it.
with running as (
    select driver.*, month_of(driver.on_date) as month, sum(driver.driver) over so_far as to_driver
    from cost._driver as driver
    where driver.piece is not null and driver.driver > 0
    window so_far as (
        partition by driver.layer, driver.driver_of, month_of(driver.on_date)
        -- what nobody logged has no turn of its own, and comes first
        order by
            driver.on_date, driver.day_turn nulls first, driver.piece, driver.operation,
            driver.rework, driver.driver, driver.row_id
        rows unbounded preceding
    )
),

-- the driver of a month before a rate that begins within it
begun as (
    select rate.pool, rate.layer, rate.from_on, max(running.to_driver) as driver
    from cost._pool_rate as rate
    join cost._pool_driver as pools on pools.pool = rate.pool and pools.layer = rate.layer
    join running
        on running.layer = pools.layer and running.driver_of = pools.driver_of
        and running.month = rate.month and running.on_date < rate.from_on
    where rate.from_on > rate.month
    group by rate.pool, rate.layer, rate.from_on
),

rated as (
    select
        rate.*, running.on_date, running.row_id as work_id, running.operation, running.piece,
        running.rework, running.assumed, running.estimated as inferred,
        running.to_driver - coalesce(begun.driver, 0) as end_at,
        end_at - running.driver as begin_at
    from running
    join cost._pool_driver as pools
        on pools.layer = running.layer and pools.driver_of = running.driver_of
    join cost._pool_rate as rate
        on rate.pool = pools.pool and rate.layer = pools.layer and rate.month = running.month
        and running.on_date between rate.from_on and rate.to_on
    left join begun
        on begun.pool = rate.pool and begun.layer = rate.layer and begun.from_on = rate.from_on
    where rate.rate_driver > 0
),

applied as (
    select
        pool, layer, month, on_date, work_id as row_id, row_id as paid_row_id, operation, piece,
        rework, assumed, inferred or basis = 'so far' as estimated, span_cents, span_own_cents,
        span_labour_cents,
        cut(rate_cents, end_at, rate_driver) as to_cents,
        cut(rate_cents, begin_at, rate_driver) as from_cents
    from rated
),

pay as (
    select
        *,
        cut(to_cents, least(span_labour_cents, span_cents), span_cents) as to_pay,
        cut(from_cents, least(span_labour_cents, span_cents), span_cents) as from_pay
    from applied where span_labour_cents > 0 and span_cents > 0
),

own as (
    select
        *,
        cut(to_pay, span_own_cents, span_labour_cents) as to_own,
        cut(from_pay, span_own_cents, span_labour_cents) as from_own
    from pay
),

parts as (
    select *, layer as origin, to_cents - from_cents as cents
    from applied where span_labour_cents = 0 or span_cents <= 0
    union all by name
    select *, layer as origin, to_cents - from_cents - to_pay + from_pay as cents from own
    union all by name
    select *, 'labour' as origin, to_pay - from_pay - to_own + from_own as cents from own
    union all by name
    select *, 'own labour' as origin, to_own - from_own as cents from own
)

select
    pool, layer, origin, month, on_date, row_id, paid_row_id, operation, piece,
    coalesce(rework, false) as rework,
    coalesce(assumed, false)
    or row_id in (select row_id from work.open_row)
    or paid_row_id in (select row_id from work.open_row) as assumed,
    coalesce(estimated, false) as estimated, cast(cents as bigint) as cents
from parts
