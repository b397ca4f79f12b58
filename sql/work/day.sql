-- One row per day on which work is on record, with its hours.
-- @key on_date
select on_date, sum(seconds) / 3600 as hours from records.hours group by on_date
