-- An item whose stock by the trace differs from the one by its lots and draws.
-- @severity error
with balances as (
    select coalesce(lot.item, 'without a lot') as item, sum(moved_entry.cents) as cents
    from cost.moved_entry left join cost.lot on lot.lot_id = moved_entry.paid_row_id
    where moved_entry.place = 'stock' group by all
),

lots as (select item, sum(on_hand_cents) as cents from cost.lot group by item)

select
    coalesce(balances.item, lots.item) as item, balances.cents as by_trace, lots.cents as by_draws
from balances full join lots on lots.item = balances.item
where coalesce(balances.cents, 0) <> coalesce(lots.cents, 0)
