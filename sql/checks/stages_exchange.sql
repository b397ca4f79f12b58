-- A month in which what left one stage of the stock is not what came into the others, scrap on its
-- way included.
-- @severity error
with spoilage as (
    select month, closing_cents - opening_cents as cents
    from money.pool_month where pool = 'spoilage'
),

moved as (
    select month, sum(moved_out_cents) as out_cents, sum(moved_in_cents) as in_cents
    from money.stock_month group by month
)

select moved.month, out_cents, in_cents, coalesce(spoilage.cents, 0) as in_the_pool
from moved left join spoilage on spoilage.month = moved.month
where out_cents <> in_cents + coalesce(spoilage.cents, 0)
