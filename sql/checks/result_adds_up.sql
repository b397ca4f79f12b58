-- A month whose result differs from what the trace says left the shop in it.
-- @severity error
with left_shop as (
    select month_of(on_date) as month, cents from cost.trace where to_place in ('sold', 'period', 'waste')
    union all select month_of(on_date), -cents from cost.trace where from_place in ('sold', 'period', 'waste')
),

costs as (select month, sum(cents) as cents from left_shop group by month)

select month.month, month.result_cents, month.revenue_cents + month.refund_cents - coalesce(costs.cents, 0) as by_trace
from money.month left join costs on costs.month = month.month
where month.result_cents <> month.revenue_cents + month.refund_cents - coalesce(costs.cents, 0)
