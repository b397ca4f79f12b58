-- One row per part of a test piece's cost and piece of its order that takes it, at the month's end.
-- Who takes how much goes by units; the tests' costs are laid end to end along that. A piece takes
-- from its beginning on, until the month in which it was scrapped or lost. A test without an order,
-- or whose order was cancelled before it had a piece, has no heir.
with tests as (
    select spoiled.*, coalesce(piece.order_no, 'none of ' || spoiled.piece) as order_no
    from cost._spoiled as spoiled
    join work.piece on piece.piece = spoiled.piece
    where spoiled.kind = 'test' and spoiled.cents > 0
),

laid as (
    select
        *,
        sum(cents) over (
            partition by month, order_no order by piece, origin rows unbounded preceding
        ) as end_at,
        sum(cents) over (partition by month, order_no) as all_cents
    from tests
),

months as (select distinct month, order_no, all_cents from laid),

heirs as (
    select
        months.month, months.order_no, months.all_cents, piece.piece, piece.units,
        piece.status = 'scrapped' and month_of(piece.ended_on) = months.month as handed_on,
        sum(piece.units) over so_far as to_units, sum(piece.units) over whole as all_units
    from months
    join work.piece
        on piece.order_no = months.order_no and piece.status <> 'test'
        and piece.started_on <= last_day(months.month)
        and (piece.status not in ('scrapped', 'lost') or month_of(piece.ended_on) >= months.month)
    window whole as (partition by months.month, months.order_no),
        so_far as (partition by months.month, months.order_no order by piece.piece)
),

ends as (
    select month, order_no, end_at, row_id, origin from laid
    union all by name
    select month, order_no, cut(all_cents, to_units, all_units) as end_at, piece as heir
    from heirs where share(all_cents, to_units - units, to_units, all_units) > 0
),

points as (
    select month, order_no, end_at, max(row_id) as row_id, max(origin) as origin, max(heir) as heir
    from ends group by month, order_no, end_at
),

stretches as (
    select
        month, order_no, end_at
            - coalesce(lag(end_at) over (partition by month, order_no order by end_at), 0) as cents,
        first_value(row_id ignore nulls) over rest as row_id,
        first_value(origin ignore nulls) over rest as origin,
        first_value(heir ignore nulls) over rest as heir
    from points
    window rest as (
        partition by month, order_no
        order by end_at rows between current row and unbounded following
    )
)

select
    stretches.month, stretches.row_id, stretches.origin, stretches.heir,
    coalesce(heirs.handed_on, false) as handed_on, cast(stretches.cents as bigint) as cents
from stretches
left join heirs on heirs.month = stretches.month and heirs.piece = stretches.heir
