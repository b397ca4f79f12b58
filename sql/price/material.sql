-- One row per finished piece and layer of its material: what it cost, and what it would cost today.
-- Each quantity that went in, at the price of its kind in force today; what has no quantity stays
-- at what it cost.
-- @key piece, layer
select
    movement.piece, movement.layer, cast(sum(movement.cents) as bigint) as material_cents,
    cast(sum(case when today.quantity > 0 and movement.quantity is not null
                  then cut(today.cents, movement.quantity, today.quantity)
                  else movement.cents end) as bigint) as material_cents_today
from cost.movement
left join work.lot on lot.lot_id = movement.paid_row_id
left join price.today on today.flow = coalesce(lot.flow, movement.item)
where movement.from_place = 'stock' and movement.to_place = 'piece'
group by movement.piece, movement.layer
