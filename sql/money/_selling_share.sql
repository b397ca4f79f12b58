-- One row per month: what selling took of the revenue over the twelve months that end with it, in
-- parts of a million.
-- Only what a sale itself costs counts: fees, postage, packaging, booths; not advertising.
-- @key month
-- @check selling_ppm between 0 and 1000000
with sums as (
    select
        month, sum(cents) filter (where line in ('revenue', 'refunds')) as revenue_cents,
        -sum(cents) filter (where line = 'selling' and place = 'sold') as selling_cents
    from money._plain_line group by month
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
    cast(case when revenue_cents <= 0 then 0
              else greatest(0, least(1000000, cut(selling_cents, 1000000, revenue_cents)))
         end as bigint) as selling_ppm
from yearly
