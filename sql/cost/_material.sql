-- One row per lot, draw and place it went to, in cents: stock leaving the shelf.
-- A lot's cents go by position, so that later draws never change earlier ones; a draw's cents go over its pieces by weight.
with flow as (
    select
        flow.*, lot.paid_row_id, lot.on_date as bought_on, lot.item, lot.lot, lot.unit, lot.imputed,
        cut(lot.cents, flow.to_quantity, lot.quantity) - cut(lot.cents, flow.from_quantity, lot.quantity) as cents,
        flow.to_quantity - flow.from_quantity as taken
    from work.flow
    join cost._lot as lot on lot.lot_id = flow.lot_id
),

dated as (
    select
        flow.*, coalesce(use.row_id, counted.row_id, settled.row_id) as row_id,
        -- what is spread over months can't be used before it was bought
        coalesce(use.on_date, counted.on_date, greatest(settled.on_date, flow.bought_on)) as on_date
    from flow
    left join work.use on use.use_id = flow.use_id
    left join work.counted as counted on 4096 * counted.row_id + 2 = flow.use_id
    left join work.settled as settled on settled.use_id = flow.use_id
)

select
    dated.on_date, dated.row_id, dated.paid_row_id, target.place, target.layer, target.piece, dated.lot, dated.item, dated.unit,
    cast(cut(cents, to_weight, all_weight) - cut(cents, to_weight - weight, all_weight) as bigint) as cents,
    cast(cut(taken, to_weight, all_weight) - cut(taken, to_weight - weight, all_weight) as bigint) as quantity,
    target.rework, target.assumed, target.estimated or dated.imputed as estimated,
    case when target.layer = 'resin waste' then 'resin' else target.layer end as origin
from dated
join work.target on target.use_id = dated.use_id
