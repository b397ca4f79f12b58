-- A lot whose book value by the trace differs from the one by its draws.
-- @severity error
with moved as (
    select paid_row_id as lot_id, cents from cost.trace where to_place = 'stock'
    union all select paid_row_id, -cents from cost.trace where from_place = 'stock'
),

balances as (select lot_id, sum(cents) as cents from moved group by lot_id)

select coalesce(balances.lot_id, lot.lot_id) as lot_id, balances.cents as by_trace, lot.on_hand_cents as by_draws
from balances full join cost.lot on lot.lot_id = balances.lot_id
where coalesce(balances.cents, 0) <> coalesce(lot.on_hand_cents, 0)
