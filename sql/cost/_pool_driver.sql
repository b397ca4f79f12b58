-- One row per pool: what its cost goes by. A machine's own pool goes by that machine's hours.
-- @key pool, layer
select name as pool, 'overhead' as layer, min(driver) as driver_of from settings.pool group by name
union all
select distinct name, 'machine', name from settings.machine
