-- One row per sale row and piece that it took, with its part of the revenue; what no piece is known for stands alone.
with matched as (select row_id, piece, units from work.sale_piece),

taken as (select row_id, sum(units) as units from matched group by row_id),

parts as (
    select row_id, piece, units from matched where units <> 0
    union all
    select sale.row_id, null, sale.units - coalesce(taken.units, 0)
    from money._sale as sale
    left join taken on taken.row_id = sale.row_id
    where taken.row_id is null or sale.units <> taken.units
),

running as (
    select
        *, sum(abs(units)) over (partition by row_id order by piece nulls last rows unbounded preceding) as to_units,
        sum(abs(units)) over (partition by row_id) as all_units
    from parts
)

select
    running.row_id, sale.on_date, sale.month, running.piece, cast(running.units as bigint) as units,
    coalesce(piece.product, sale.product, 'not stated') as product, piece.species, piece.finish,
    sale.channel, sale.event, coalesce(sale.order_no, piece.order_no) as order_no,
    cut(sale.revenue_cents, to_units, greatest(all_units, 1)) - cut(sale.revenue_cents, to_units - abs(running.units), greatest(all_units, 1))
        + case when all_units = 0 then sale.revenue_cents else 0 end as revenue_cents
from running
join money._sale as sale on sale.row_id = running.row_id
left join work.piece on piece.piece = running.piece
