-- One row per sale row and piece that it took units of, with what they brought; a return has units
-- below nothing.
-- `came_back`: later on every unit of the piece was back, so that in the end it was no sale.
-- @key row_id, piece
with parts as (select * from money._sale_part),

sales as (select row_id, units, taken_cents from money._sale),

priced as (
    select
        parts.row_id, parts.piece, parts.on_date, parts.day_turn, parts.channel, parts.units,
        cut(sales.taken_cents * sign(sales.units), 1, abs(sales.units)) as price_cents,
        cast(parts.revenue_cents as bigint) as revenue_cents
    from parts
    join sales on sales.row_id = parts.row_id
    where parts.piece is not null
),

moved as (
    select *, row_number() over so_far as number, sum(units) over so_far as units_gone
    from priced
    window so_far as (partition by piece order by on_date, day_turn, row_id rows unbounded preceding)
)

select
    * exclude (day_turn, number, units_gone),
    coalesce(
        number <= max(number) filter (where units_gone <= 0) over (partition by piece), false
    ) as came_back
from moved
