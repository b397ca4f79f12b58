-- A month whose result and the lines beside it don't lead to the change of its cash.
-- @severity error
with ways as (
    select
        month, sum(cents) filter (where line <> 'cash') as way_cents,
        sum(cents) filter (where line = 'cash') as cash_cents
    from money.cash_month group by month
)

select
    month.month, ways.way_cents, ways.cash_cents,
    month.cash_end_cents - month.cash_start_cents as by_month
from money.month
left join ways on ways.month = month.month
where coalesce(ways.way_cents, 0) <> coalesce(ways.cash_cents, 0)
    or coalesce(ways.cash_cents, 0) <> month.cash_end_cents - month.cash_start_cents
