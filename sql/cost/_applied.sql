-- One row per pool, stretch of work and piece: machine and overhead cost going into the piece at the month's rate.
with running as (
    select
        driver.*, month_of(driver.on_date) as month,
        sum(driver.driver) over (partition by driver.pool, month_of(driver.on_date) order by driver.on_date, driver.row_id, driver.piece, driver.operation, driver.rework rows unbounded preceding) as to_driver
    from cost._driver as driver
    where driver.piece is not null and driver.driver > 0
)

select
    running.pool, running.layer, running.month, running.on_date, running.row_id, rate.row_id as paid_row_id, running.operation, running.piece, running.rework,
    rate.basis = 'so far' as estimated,
    cast(cut(rate.rate_cents, to_driver, rate.rate_driver) - cut(rate.rate_cents, to_driver - running.driver, rate.rate_driver) as bigint) as cents
from running
join cost.pool_rate as rate on rate.pool = running.pool and rate.month = running.month
where rate.rate_driver > 0
