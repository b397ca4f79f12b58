-- One row per pool and month with its cost, its driver, and the rate at which it goes into pieces
-- at the month's end: `rate_cents` for `rate_driver` units.
-- @key pool, month
select * exclude (from_on, to_on) from cost._pool_rate where to_on = last_day(month)
