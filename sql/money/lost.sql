-- One row per piece and span of time in which units of it were sold for less than they cost and took
-- to sell, own pay included, with the likeliest reason.
-- Spans are those of money.piece_margin. The reason is whatever lies furthest, in its disfavour, from
-- what is usual for its product: price, labour, material, selling, rework or scrap; of a run as much
-- of these as the units sold bear. Where nothing does, the usual price doesn't pay the usual cost.
-- @key piece, span, month
-- @check lost_cents > 0
with pieces as (
    select
        piece, product, span, month, row_id, units, net_revenue_cents as revenue_cents,
        cost_of_sales_cents, selling_cents, labour_cents, material_cents
    from money.piece_margin where piece is not null and units > 0
),

spoiled as (
    select piece, cast(sum(cents) as bigint) as cents from cost.movement
    where layer = 'spoilage' and from_place = 'pool' and to_place = 'piece' group by piece
),

usual as (
    select
        product,
        quantile_disc(cut(revenue_cents, 1, units), 0.5) as price_cents,
        quantile_disc(cut(selling_cents, 1, units), 0.5) as selling_cents,
        quantile_disc(cut(labour_cents, 1, units), 0.5) as labour_cents,
        quantile_disc(cut(material_cents, 1, units), 0.5) as material_cents
    from pieces where span = 'all' group by product
),

compared as (
    select
        pieces.*, pieces.units as n,
        greatest(0, usual.price_cents * n - pieces.revenue_cents) as short_cents,
        greatest(0, pieces.selling_cents - usual.selling_cents * n) as dear_selling_cents,
        greatest(0, coalesce(cut(cost.rework_cents, n, cost.quantity), 0)) as rework_cents,
        greatest(0, pieces.labour_cents - usual.labour_cents * n) as long_cents,
        greatest(0, pieces.material_cents - usual.material_cents * n) as dear_cents,
        greatest(0, coalesce(cut(spoiled.cents, n, cost.quantity), 0)) as scrap_cents
    from pieces
    join usual on usual.product = pieces.product
    left join cost.piece as cost on cost.piece = pieces.piece
    left join spoiled on spoiled.piece = pieces.piece
    where pieces.revenue_cents - pieces.cost_of_sales_cents - pieces.selling_cents < 0
),

judged as (
    select
        *,
        greatest(
            short_cents, dear_selling_cents, rework_cents, long_cents, dear_cents, scrap_cents
        ) as most_cents
    from compared
)

select
    piece, product, span, month, row_id, units, revenue_cents as net_revenue_cents, cost_of_sales_cents,
    selling_cents,
    cost_of_sales_cents + selling_cents - revenue_cents as lost_cents,
    case when most_cents = 0 then 'the usual price does not pay the usual cost'
         when most_cents = rework_cents then 'rework'
         when most_cents = short_cents then 'sold for less than usual'
         when most_cents = long_cents then 'took more work than usual'
         when most_cents = dear_cents then 'took more material than usual'
         when most_cents = dear_selling_cents then 'cost more to sell than usual'
         else 'its share of scrap' end as reason,
    most_cents as reason_cents
from judged
