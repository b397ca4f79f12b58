-- A month that is not closed and whose result is not the sum of its lines.
-- @severity error
with lines as (
    select month, sum(cents) as cents, sum(cents) filter (where not own_labour) as books_cents
    from money.month_line group by month
),

later as (
    select month, sum(cents) as cents, sum(cents) filter (where not own_labour) as books_cents
    from money.earlier group by month
)

select month.month, month.result_cents, month.books_result_cents, lines.cents, lines.books_cents
from money.month
left join lines on lines.month = month.month
left join later on later.month = month.month
where not month.closed
    and (
        month.result_cents <> coalesce(lines.cents, 0) + coalesce(later.cents, 0)
        or month.books_result_cents
            <> coalesce(lines.books_cents, 0) + coalesce(later.books_cents, 0)
    )
