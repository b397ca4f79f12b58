-- A piece whose cost is below zero, or that has left the shop and still holds cost.
-- @severity error
with balances as (
    select piece, sum(cents) as cents from cost.moved_entry where place = 'piece' group by piece
),

gone as (
    select piece, arg_max(units_out, number) >= any_value(units) as all_out
    from work.exit group by piece
)

select balances.piece, balances.cents, coalesce(gone.all_out, false) as all_out
from balances left join gone on gone.piece = balances.piece
where balances.cents < 0 or gone.all_out and balances.cents <> 0
