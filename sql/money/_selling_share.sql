-- One row per month: what selling took over the twelve months that end with it, and of how much
-- revenue: none of nothing, and never more than that.
-- Only what a sale itself costs counts: fees, postage, packaging, booths; not advertising.
-- @key month
-- @check selling_cents between 0 and revenue_cents
with sums as (
    select
        month, sum(cents) filter (where line in ('revenue', 'refunds')) as revenue_cents,
        -sum(cents) filter (where line = 'selling' and place = 'sold') as selling_cents
    from money._line_sum group by month
),

yearly as (
    select
        month.month, sum(coalesce(revenue_cents, 0)) over year as revenue_cents,
        sum(coalesce(selling_cents, 0)) over year as selling_cents
    from work.month
    left join sums on sums.month = month.month
    window year as (order by month.month rows between 11 preceding and current row)
)

select
    month,
    cast(greatest(revenue_cents, 1) as bigint) as revenue_cents,
    cast(case when revenue_cents <= 0 then 0
              else greatest(0, least(selling_cents, revenue_cents)) end as bigint) as selling_cents
from yearly
