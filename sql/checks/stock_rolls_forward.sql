-- A month at whose end the stock by stage differs from the shelves and pieces of the trace.
-- @severity error
with changes as (
    select
        greatest(month_of(on_date), (select min(month) from work.month)) as month,
        sum(cents) filter (where place = 'stock') as shelf_cents,
        sum(cents) filter (where place = 'piece') as piece_cents
    from cost.moved_entry group by all
),

balances as (
    select
        month.month,
        sum(coalesce(shelf_cents, 0)) over so_far as shelf_cents,
        sum(coalesce(piece_cents, 0)) over so_far as piece_cents
    from work.month
    left join changes on changes.month = month.month
    window so_far as (order by month.month rows unbounded preceding)
),

stages as (
    select
        month,
        sum(closing_cents) filter (where stage = 'materials') as shelf_cents,
        sum(closing_cents) filter (where stage <> 'materials') as piece_cents,
        sum(opening_cents) as opening_cents, sum(closing_cents) as closing_cents
    from money.stock_month group by month
),

followed as (select *, lag(closing_cents) over (order by month) as before_cents from stages)

select
    balances.month, followed.shelf_cents, balances.shelf_cents as shelf_by_trace,
    followed.piece_cents, balances.piece_cents as pieces_by_trace, opening_cents, before_cents
from balances
left join followed on followed.month = balances.month
where coalesce(followed.shelf_cents, 0) <> balances.shelf_cents
    or coalesce(followed.piece_cents, 0) <> balances.piece_cents
    or opening_cents <> before_cents
