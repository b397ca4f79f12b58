-- One row per group of what was sold and span of time: what it brought, cost and left, in all and
-- per hour at the bench.
-- Groups are product, species, finish, channel, order and event; spans are each month, each
-- calendar year (`month` is its January), the twelve months that end with the last month (`month`
-- is that one), and all so far. Contribution is revenue less selling and all cost but overhead,
-- machines and own labour: what a sale leaves for own pay, rent and machines. When hours are the
-- limit, make more of what leaves most for an hour; of less than a quarter of one nothing is said.
-- @key factor, level, span, month
-- @check margin_cents = net_revenue_cents - cost_of_sales_cents - selling_cents
with entries as (
    select
        month, units, seconds, revenue_cents, cost_of_sales_cents, labour_cents, own_labour_cents,
        overhead_cents, material_cents, selling_cents,
        unnest(['product', 'species', 'finish', 'channel', 'order', 'event']) as factor,
        unnest([product, species, finish, channel, order_no, event]) as level
    from money._margin_entry
),

monthly as (
    select factor, level, month, sum(columns('(units|seconds|.*_cents)')) as "\1"
    from entries where level is not null group by factor, level, month
),

last as (select max(month) as month from work.month),

spans as (
    select *, 'month' as span from monthly
    union all by name
    select * replace (date_trunc('year', month)::date as month), 'year' as span from monthly
    union all by name
    select monthly.* replace (last.month as month), 'twelve months' as span
    from monthly
    cross join last
    where monthly.month > last.month - interval 12 month and monthly.month <= last.month
    union all by name
    select monthly.* replace (last.month as month), 'all' as span
    from monthly
    cross join last
),

summed as (
    select
        factor, level, span, month, cast(sum(columns('(units|seconds|.*_cents)')) as bigint) as "\1"
    from spans group by factor, level, span, month
),

contributed as (
    select
        *, revenue_cents - cost_of_sales_cents - selling_cents as margin_cents,
        margin_cents + overhead_cents + own_labour_cents as contribution_cents,
        cost_of_sales_cents + selling_cents as all_cents
    from summed
)

select
    factor, level, span, month, units, revenue_cents as net_revenue_cents, cost_of_sales_cents,
    material_cents, labour_cents, own_labour_cents, overhead_cents as shop_cost_cents,
    selling_cents, margin_cents,
    case when revenue_cents > 0 then margin_cents / revenue_cents end as margin_share,
    case when units > 0 and all_cents > 0 then revenue_cents / all_cents end as covered_share,
    contribution_cents, seconds / 3600 as hours,
    for_an_hour(margin_cents, seconds, 'a piece') as margin_per_hour_cents,
    for_an_hour(contribution_cents, seconds, 'a piece') as contribution_per_hour_cents
from contributed
