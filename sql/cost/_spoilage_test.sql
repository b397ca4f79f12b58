-- One row per part of a test piece's cost and piece of its order that takes it, at the month's end.
-- Who takes how much goes by units; the tests' costs are laid end to end along that. A test without an order, or whose
-- order has no other piece, has no heir.
with tests as (
    select spoiled.*, coalesce(piece.order_no, 'none of ' || spoiled.piece) as order_no
    from cost._spoiled as spoiled
    join work.piece on piece.piece = spoiled.piece
    where spoiled.kind = 'test' and spoiled.cents > 0
),

laid as (
    select
        *, sum(cents) over (partition by month, order_no order by piece, origin rows unbounded preceding) as end_at,
        sum(cents) over (partition by month, order_no) as all_cents
    from tests
),

heirs as (
    select
        order_no, piece, status, units, sum(units) over (partition by order_no order by piece) as to_units, sum(units) over (partition by order_no) as all_units
    from work.piece where order_no is not null and status <> 'test'
),

months as (select distinct month, order_no, all_cents from laid),

ends as (
    select month, order_no, end_at, row_id, origin, cast(null as varchar) as heir from laid
    union all
    select months.month, months.order_no, cut(months.all_cents, to_units, all_units), null, null, heirs.piece
    from months
    join heirs on heirs.order_no = months.order_no
    where cut(months.all_cents, to_units, all_units) > cut(months.all_cents, to_units - units, all_units)
),

points as (
    select month, order_no, end_at, max(row_id) as row_id, max(origin) as origin, max(heir) as heir from ends group by month, order_no, end_at
),

stretches as (
    select
        month, order_no, end_at - coalesce(lag(end_at) over (partition by month, order_no order by end_at), 0) as cents,
        first_value(row_id ignore nulls) over rest as row_id, first_value(origin ignore nulls) over rest as origin,
        first_value(heir ignore nulls) over rest as heir
    from points
    window rest as (partition by month, order_no order by end_at rows between current row and unbounded following)
)

select stretches.month, stretches.row_id, stretches.origin, stretches.heir, heirs.status as heir_status, cast(stretches.cents as bigint) as cents
from stretches
left join heirs on heirs.piece = stretches.heir
