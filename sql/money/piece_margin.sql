-- One row per piece and span of time: what its sales brought, cost and left, in all and for an hour
-- at the bench.
-- Spans are each month, each calendar year (`month` is its January) and all so far (`month` is the
-- last month). Sales that no piece is known for stand once a product, without a piece; selling that
-- belongs to no sale, such as advertising, stands without a product too. So the rows of a span come
-- to its gross margin less all selling. Of less than a quarter of an hour nothing is said for one.
-- @key piece, product, span, month
-- @check margin_cents = net_revenue_cents - cost_of_sales_cents - selling_cents
with sales as (
    select
        month, piece, product, row_id, units, seconds, revenue_cents, cost_of_sales_cents,
        labour_cents, own_labour_cents, overhead_cents, material_cents, selling_cents
    from money._margin_entry
),

at_large as (
    select month, -sum(cents) as selling_cents from money._line_sum
    where line = 'selling' and place <> 'sold' group by month
),

entries as (from sales union all by name from at_large),

last as (select max(month) as month from work.month),

spans as (
    select *, 'month' as span from entries
    union all by name
    select * replace (date_trunc('year', month)::date as month), 'year' as span from entries
    union all by name
    select entries.* replace (last.month as month), 'all' as span from entries cross join last
),

summed as (
    select
        piece, product, span, month,
        max_by(row_id, (revenue_cents, row_id)) filter (where units > 0) as row_id,
        cast(coalesce(sum(columns('(units|seconds|.*_cents)')), 0) as bigint) as "\1"
    from spans group by piece, product, span, month
),

left_over as (
    select
        *, revenue_cents - cost_of_sales_cents - selling_cents as margin_cents,
        cost_of_sales_cents + selling_cents as all_cents
    from summed
)

select
    piece, product, span, month, row_id, units, revenue_cents as net_revenue_cents,
    cost_of_sales_cents, material_cents, labour_cents, own_labour_cents,
    overhead_cents as shop_cost_cents, selling_cents, margin_cents,
    case when units > 0 and all_cents > 0 then revenue_cents / all_cents end as covered_share,
    seconds / 3600 as hours,
    for_an_hour(margin_cents, seconds, 'a piece') as margin_per_hour_cents
from left_over
