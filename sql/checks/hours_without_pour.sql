-- A piece with hours of pouring, and no pour of it on record: the resin in it costs it nothing until
-- its pour, or its taking of resin, is logged.
-- @severity warning
select without_cost.piece, hours.on_date, without_cost.row_id
from cost.without_cost
join work.hours on hours.row_id = without_cost.row_id
