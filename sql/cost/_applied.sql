-- One row per pool, stretch of work, piece and origin: machine and overhead cost going into the
-- piece at the month's rate. What has been applied so far in the month is cut by what the pool is
-- made of: pay first, then the owners' part of the pay. Both cuts rise with what is applied, so
-- that no part of a row is negative and all add up to it.
with running as (
    select driver.*, month_of(driver.on_date) as month, sum(driver.driver) over so_far as to_driver
    from cost._driver as driver
    where driver.piece is not null and driver.driver > 0
    window so_far as (
        partition by driver.layer, driver.driver_of, month_of(driver.on_date)
        order by driver.on_date, driver.row_id, driver.piece, driver.operation, driver.rework
        rows unbounded preceding
    )
),

applied as (
    select
        rate.pool, running.layer, running.month, running.on_date, running.row_id,
        rate.row_id as paid_row_id,
        running.operation, running.piece, running.rework, rate.basis = 'so far' as estimated,
        rate.span_cents, rate.span_own_cents, rate.span_labour_cents,
        cut(rate.rate_cents, to_driver, rate.rate_driver) as to_cents,
        cut(rate.rate_cents, to_driver - running.driver, rate.rate_driver) as from_cents
    from running
    join cost._pool_driver as pools
        on pools.layer = running.layer and pools.driver_of = running.driver_of
    join cost.pool_rate as rate
        on rate.pool = pools.pool and rate.layer = pools.layer and rate.month = running.month
    where rate.rate_driver > 0
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
    pool, layer, origin, month, on_date, row_id, paid_row_id, operation, piece, rework, estimated,
    cast(cents as bigint) as cents
from parts
