-- One row per finished piece and layer of its material: what it cost, and what it would cost today.
-- Each quantity that went in, at the price of its kind in force today; what has no quantity stays
-- at what it cost.
-- @key piece, layer
select
    trace.piece, trace.layer, cast(sum(trace.cents) as bigint) as material_cents,
    cast(sum(case when today.quantity > 0 and trace.quantity is not null
                  then cut(today.cents, trace.quantity, today.quantity)
                  else trace.cents end) as bigint) as material_cents_today
from cost.trace
left join work.lot on lot.lot_id = trace.paid_row_id
left join price.today on today.flow = coalesce(lot.flow, trace.item)
where trace.from_place = 'stock' and trace.to_place = 'piece'
group by trace.piece, trace.layer
