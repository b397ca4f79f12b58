-- A month whose margins by product differ from its sales and their cost.
-- @severity error
with lines as (
    select
        month, sum(cents) filter (where line in ('revenue', 'refunds')) as revenue_cents,
        -sum(cents) filter (where line = 'cost of sales') as cost_cents
    from money.month_line group by month
),

margins as (
    select month, sum(net_revenue_cents) as revenue_cents, sum(cost_of_sales_cents) as cost_cents
    from money.margin where factor = 'product' and span = 'month' group by month
)

select
    coalesce(lines.month, margins.month) as month, lines.revenue_cents,
    margins.revenue_cents as by_product, lines.cost_cents, margins.cost_cents as cost_by_product
from lines
full join margins on margins.month = lines.month
where coalesce(lines.revenue_cents, 0) <> coalesce(margins.revenue_cents, 0)
    or coalesce(lines.cost_cents, 0) <> coalesce(margins.cost_cents, 0)
