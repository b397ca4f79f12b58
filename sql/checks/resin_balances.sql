-- The months of a resin disagree with its lots, or with the trace, about what is on the shelf: our
-- own bug.
-- @severity error
with by_month as (
    select
        item, arg_max(on_hand_g, month) as on_hand_g, arg_max(on_hand_cents, month) as on_hand_cents
    from material.resin_balance group by item
),

by_lot as (
    select
        stock.item,
        sum(
            case stock.unit when 'mg' then 0.001 else item.density_ug_per_ul / 1000000 end
            * stock.on_hand
        ) as on_hand_g
    from material.stock
    join work.item on item.item = stock.item
    where item.category = 'resin' and stock.flow = stock.item
    group by stock.item
),

by_trace as (
    select item, sum(cents) as cents from cost.moved_entry where place = 'stock' group by item
)

select by_month.*, by_lot.on_hand_g as lots_g, by_trace.cents as trace_cents
from by_month
left join by_lot on by_lot.item = by_month.item
left join by_trace on by_trace.item = by_month.item
where abs(by_month.on_hand_g - coalesce(by_lot.on_hand_g, 0)) > 0.001
    or by_month.on_hand_cents <> coalesce(by_trace.cents, 0)
