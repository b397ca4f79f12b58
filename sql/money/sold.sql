-- One row per sale row and piece that it took units of, with what they brought; a return has units below nothing.
-- @key row_id, piece
with parts as (select * from money._sale_part)

select row_id, piece, on_date, channel, units, cast(revenue_cents as bigint) as revenue_cents
from parts
where piece is not null
