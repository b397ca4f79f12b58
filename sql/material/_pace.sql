-- One row per thing that takes its turn on the shelf, with what a usual month draws, in its unit,
-- and of how many months that is the mean.
-- The mean of the last twelve whole months (fewer where the shop is younger; the months so far
-- where none is whole). Offcuts of closed lots count, as wood is bought with them; what a count
-- found lost, what went back and what was sold as such do not.
-- @key flow
with months as (
    select
        month, row_number() over (order by whole desc, month desc) as back, whole,
        max(cast(whole as integer)) over () as any_whole
    from work.month
),

window_months as (select month from months where back <= 12 and (whole or any_whole = 0)),

drawn as (
    select lot.flow, sum(movement.quantity) as quantity
    from cost.movement
    join work.lot on lot.lot_id = movement.paid_row_id
    where movement.from_place = 'stock' and movement.to_place not in ('receipt', 'own use')
        and month_of(movement.on_date) in (select month from window_months)
        and (movement.to_place <> 'waste' or movement.layer = 'resin waste')
        and (movement.to_place <> 'sold' or movement.layer = 'packaging')
    group by lot.flow
)

select
    flow, quantity / (select count(*) from window_months) as usual_month,
    (select count(*) from window_months) as months
from drawn where quantity > 0
