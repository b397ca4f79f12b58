-- One row per piece of which units stay sold: what an hour of the owners' own bench work in those
-- units paid.
-- What they brought, less what selling them cost and all of their cost but own bench labour, over
-- the own hours in them. Own pay for shop hours, which comes in by overhead, stays a cost: its
-- hours are in no piece. Of less than a quarter of an hour nothing is said. Usual is the middle one
-- of its product.
-- @key piece
-- @check units > 0
with sold as (
    select
        piece, sum(units) as units, sum(revenue_cents) as revenue_cents,
        sum(selling_cents) as selling_cents,
        sum(cost_of_sales_cents) as cost_of_sales_cents
    from money._margin_entry where piece is not null
    group by piece having sum(units) > 0
),

own as (
    select
        sold.*, piece.product,
        least(sold.units, piece.quantity) as of_units,
        cut(piece.own_bench_cents, of_units, piece.quantity) as own_cents,
        cut(piece.own_bench_seconds, of_units, piece.quantity) as own_bench_seconds
    from sold
    join cost.piece on piece.piece = sold.piece
),

left_over as (
    select
        *, cost_of_sales_cents - own_cents as other_cost_cents,
        cast(revenue_cents - selling_cents - other_cost_cents as bigint) as left_cents
    from own
),

paid as (
    select
        *,
        for_an_hour(left_cents, own_bench_seconds, 'a piece') as bench_pay_cents
    from left_over
),

usual as (
    select
        product, quantile_disc(bench_pay_cents, 0.5) as usual_bench_pay_cents,
        count(bench_pay_cents) as pieces
    from paid group by product
)

select
    paid.piece, paid.product, cast(paid.units as bigint) as units,
    cast(paid.revenue_cents as bigint) as revenue_cents,
    cast(paid.selling_cents as bigint) as selling_cents,
    cast(paid.other_cost_cents as bigint) as other_cost_cents,
    cast(paid.own_bench_seconds as bigint) as own_bench_seconds,
    cast(paid.bench_pay_cents as bigint) as bench_pay_cents,
    cast(usual.usual_bench_pay_cents as bigint) as usual_bench_pay_cents, usual.pieces
from paid
left join usual on usual.product is not distinct from paid.product
