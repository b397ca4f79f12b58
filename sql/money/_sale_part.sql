-- One row per sale row and piece that it took, with its part of the revenue; what no piece is known
-- for stands alone.
with matched as (select row_id, piece, units from work.sale_piece),

taken as (select row_id, sum(units) as units from matched group by row_id),

parts as (
    select row_id, piece, units from matched where units <> 0
    union all by name
    select sale.row_id, sale.units - coalesce(taken.units, 0) as units
    from money._sale as sale
    left join taken on taken.row_id = sale.row_id
    where taken.row_id is null or sale.units <> taken.units
),

running as (
    select
        *, abs(units) as own_units, sum(abs(units)) over so_far as to_units,
        greatest(sum(abs(units)) over sale, 1) as all_units, sum(abs(units)) over sale = 0 as none
    from parts
    window
        sale as (partition by row_id),
        so_far as (partition by row_id order by piece nulls last rows unbounded preceding)
)

select
    running.row_id, sale.on_date, sale_turn.day_turn, sale.month, running.piece, cast(running.units as bigint) as units,
    coalesce(piece.product, sale.product, 'not stated') as product, piece.species, piece.finish,
    sale.channel, sale.event, coalesce(sale.order_no, piece.order_no) as order_no,
    cut(sale.revenue_cents, to_units, all_units)
        - cut(sale.revenue_cents, to_units - own_units, all_units)
        + case when none then sale.revenue_cents else 0 end as revenue_cents
from running
join money._sale as sale on sale.row_id = running.row_id
left join work.sale_turn on sale_turn.row_id = running.row_id
left join work.piece on piece.piece = running.piece
