-- One row per lot, draw and place it went to, in cents: stock leaving the shelf.
-- Under the moving average a draw's cents are the average's, and its lots only say what quantity came from where. A draw's
-- cents go over its pieces by weight.
with draws as (
    select
        draw.*,
        sum(draw.quantity) over (partition by draw.use_id, draw.reserved order by draw.lot_id, draw.from_quantity rows unbounded preceding) as to_drawn,
        sum(draw.quantity) over (partition by draw.use_id, draw.reserved) as all_drawn
    from cost._draw as draw
),

valued as (
    select
        draws.* exclude (cents),
        case when average.use_id is not null and not draws.reserved
             then cut(average.cents, to_drawn, all_drawn) - cut(average.cents, to_drawn - quantity, all_drawn)
             else draws.cents end as cents
    from draws
    left join cost._average as average on average.use_id = draws.use_id
)

select
    valued.on_date, valued.row_id, valued.paid_row_id, target.place, target.layer, target.piece, valued.lot, valued.item, valued.unit,
    cast(cut(cents, to_weight, all_weight) - cut(cents, to_weight - weight, all_weight) as bigint) as cents,
    cast(cut(quantity, to_weight, all_weight) - cut(quantity, to_weight - weight, all_weight) as bigint) as quantity,
    target.rework, target.assumed, target.estimated or valued.imputed as estimated,
    case when target.layer = 'resin waste' then 'resin' else target.layer end as origin
from valued
join work.target on target.use_id = valued.use_id
