-- One row per product and channel, and one per product over all channels (empty channel): what buyers paid for one unit.
-- A piece on offer counts for its product alone: it may sell anywhere.
-- @key product, channel
-- @check low_price_cents <= high_price_cents
with pieces as (select product, channel, price_cents, sold from price.history where product is not null),

scopes as (
    select product, '' as channel, price_cents, sold from pieces
    union all select product, channel, price_cents, sold from pieces where channel is not null
)

select
    product, channel, count(price_cents) as sold_pieces, count(*) - count(sold) as unsold_pieces,
    quantile_disc(price_cents, 0.25) as low_price_cents, quantile_disc(price_cents, 0.5) as usual_price_cents,
    quantile_disc(price_cents, 0.75) as high_price_cents, max(sold) as last_sold
from scopes
group by product, channel
