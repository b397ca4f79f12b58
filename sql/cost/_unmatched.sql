-- One row per sale of which no piece is known, and layer: the usual cost of its product stands in
-- for it (estimated). The middle one of what a unit of the product cost, parted as all its pieces'
-- cost is.
with sold as (select row_id, sum(units) as units from work.sale_piece group by row_id),

unmatched as (
    select
        sales.row_id, sales.on_date, sales.product,
        coalesce(sales.quantity, 1) - coalesce(sold.units, 0) as units
    from records.sales
    left join sold on sold.row_id = sales.row_id
    where sales.lot is null and sales.piece is null
        and coalesce(sales.quantity, 1) > coalesce(sold.units, 0)
),

made as (
    select piece.product, piece.piece, piece.units, sum(inflow.cents) as cents
    from work.piece
    join cost._piece_in as inflow on inflow.piece = piece.piece
    where piece.status = 'finished'
    group by piece.product, piece.piece, piece.units
),

usual as (
    select product, quantile_disc(cut(cents, 1, units), 0.5) as unit_cents
    from made group by product
),

layers as (
    select piece.product, inflow.layer, inflow.origin, sum(inflow.cents) as cents
    from cost._piece_in as inflow
    join work.piece on piece.piece = inflow.piece and piece.status = 'finished'
    group by piece.product, inflow.layer, inflow.origin
),

running as (
    select
        *,
        sum(cents) over (partition by product order by layer, origin) as to_cents,
        sum(cents) over (partition by product) as all_cents
    from layers
)

select
    unmatched.on_date, unmatched.row_id, running.layer, running.origin,
    share(
        unmatched.units * usual.unit_cents, to_cents - running.cents, to_cents, all_cents
    ) as cents
from unmatched
join usual on usual.product = unmatched.product
join running on running.product = unmatched.product
where running.all_cents > 0
