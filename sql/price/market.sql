-- One row per product and channel, and one per product over all channels (empty channel): what
-- buyers paid for one unit.
-- A piece on offer counts for its product alone: it may sell anywhere. What was scrapped, kept or
-- lost is on offer no more. Postage is the middle one of its sales, a unit.
-- @key product, channel
-- @check low_price_cents <= high_price_cents
with pieces as (
    select piece, product, channel, price_cents, sold, gone
    from price.history where product is not null
),

postage as (
    select
        sale_piece.piece, sales.channel,
        cut(
            coalesce(sales.shipping_charged_cents, 0), 1, coalesce(sales.quantity, 1)
        ) as charged_cents,
        cut(coalesce(sales.shipping_paid_cents, 0), 1, coalesce(sales.quantity, 1)) as paid_cents
    from work.sale_piece
    join records.sales on sales.row_id = sale_piece.row_id
    where coalesce(sales.quantity, 1) > 0
),

posted as (
    select
        pieces.product, postage.channel, quantile_disc(postage.charged_cents, 0.5) as charged_cents,
        quantile_disc(postage.paid_cents, 0.5) as paid_cents
    from postage
    join pieces on pieces.piece = postage.piece
    group by pieces.product, postage.channel
),

scopes as (
    select product, '' as channel, price_cents, sold, gone from pieces
    union all select product, channel, price_cents, sold, gone from pieces where channel is not null
),

prices as (
    select
        product, channel, count(price_cents) as sold_pieces,
        count(*) filter (where sold is null and gone is null) as unsold_pieces,
        quantile_disc(price_cents, 0.25) as low_price_cents,
        quantile_disc(price_cents, 0.5) as usual_price_cents,
        quantile_disc(price_cents, 0.75) as high_price_cents, max(sold) as last_sold
    from scopes
    group by product, channel
)

select
    prices.*, posted.charged_cents as shipping_charged_cents,
    posted.paid_cents as shipping_paid_cents
from prices
left join posted on posted.product = prices.product and posted.channel = prices.channel
