-- The months of a resin and its lots disagree about what is on the shelf: our own bug.
-- @severity error
with by_month as (select item, arg_max(on_hand_g, month) as on_hand_g, arg_max(on_hand_cents, month) as on_hand_cents from material.resin_balance group by item),

by_lot as (select item, sum(on_hand_g) as on_hand_g, sum(on_hand_cents) as on_hand_cents from material.resin_lot group by item)

select by_month.*, by_lot.on_hand_g as lots_g, by_lot.on_hand_cents as lots_cents
from by_month left join by_lot on by_lot.item = by_month.item
where abs(by_month.on_hand_g - coalesce(by_lot.on_hand_g, 0)) > 0.001 or by_month.on_hand_cents <> coalesce(by_lot.on_hand_cents, 0)
