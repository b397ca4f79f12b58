-- One row per sale row and piece that it took units of, with what they brought; a return has units below nothing.
-- @key row_id, piece
with parts as (select * from money._sale_part),

sales as (select row_id, units, taken_cents from money._sale)

select
    parts.row_id, parts.piece, parts.on_date, parts.channel, parts.units,
    cut(sales.taken_cents * sign(sales.units), 1, abs(sales.units)) as price_cents, cast(parts.revenue_cents as bigint) as revenue_cents
from parts
join sales on sales.row_id = parts.row_id
where parts.piece is not null
