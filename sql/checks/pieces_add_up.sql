-- A month whose pieces and products leave other sums than its sales less their cost and all selling.
-- @severity error
with lines as (
    select month, sum(cents) as cents from money.month_line
    where line in ('revenue', 'refunds', 'cost of sales', 'selling') group by month
),

pieces as (
    select month, sum(margin_cents) as cents
    from money.piece_margin where span = 'month' group by month
)

select coalesce(lines.month, pieces.month) as month, lines.cents, pieces.cents as by_piece
from lines
full join pieces on pieces.month = lines.month
where coalesce(lines.cents, 0) <> coalesce(pieces.cents, 0)
