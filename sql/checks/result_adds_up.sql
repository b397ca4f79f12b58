-- A month whose lines differ from what sales and the trace say left the shop in it.
-- @severity error
with costs as (
    select month_of(on_date) as month, sum(cents) as cents
    from cost.moved_entry where place in ('sold', 'period', 'waste') group by all
),

lines as (
    select
        month, sum(cents) filter (where line in ('revenue', 'refunds')) as sold_cents,
        -sum(cents) filter (
            where line not in ('revenue', 'refunds', 'write-downs', 'other income')
        ) as cost_cents
    from money.line group by month
),

brought as (
    select
        on_date,
        coalesce(quantity, 1) * price_cents - coalesce(discount_cents, 0)
            + coalesce(shipping_charged_cents, 0) as cents
    from records.sales
    union all by name
    select on_date, tax_cents - cents as cents from money.allowance
),

sales as (
    select month_of(on_date) as month, sum(cents) as cents from brought group by month_of(on_date)
)

select
    month.month, coalesce(lines.sold_cents, 0) as sold_cents, coalesce(sales.cents, 0) as by_sales,
    coalesce(lines.cost_cents, 0) as cost_cents, coalesce(costs.cents, 0) as by_trace
from work.month
left join lines on lines.month = month.month
left join costs on costs.month = month.month
left join sales on sales.month = month.month
where coalesce(lines.sold_cents, 0) <> coalesce(sales.cents, 0)
    or coalesce(lines.cost_cents, 0) <> coalesce(costs.cents, 0)
