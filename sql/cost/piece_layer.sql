-- One row per piece and layer of its cost, with what is usual for its product.
-- Usual is the median over the product's finished pieces, for one unit, times the units of this piece: the usual of a layer
-- is no sum of the usual lines in it. A layer that the product usually has and this piece lacks stands here with zero cents.
-- @key piece, layer
-- What was saved from a scrapped piece can leave a layer below zero.
-- @check cents <> 0 or usual_cents > 0
with layers as (
    select
        piece, layer, cast(sum(cents) as bigint) as cents, cast(coalesce(sum(cents) filter (where rework), 0) as bigint) as rework_cents,
        count(distinct row_id) as records
    from cost._piece_in group by piece, layer
),

pieces as (select piece, product, quantity, status from cost.piece),

known as (select distinct pieces.product, layers.layer from layers join pieces on pieces.piece = layers.piece),

usual as (
    select known.product, known.layer, quantile_disc(cut(coalesce(layers.cents, 0), 1, pieces.quantity), 0.5) as unit_cents
    from known
    join pieces on pieces.product = known.product and pieces.status = 'finished'
    left join layers on layers.piece = pieces.piece and layers.layer = known.layer
    group by known.product, known.layer
),

compared as (
    select
        pieces.piece, known.layer, coalesce(layers.cents, 0) as cents, coalesce(layers.rework_cents, 0) as rework_cents, coalesce(layers.records, 0) as records,
        cast(coalesce(usual.unit_cents, 0) * pieces.quantity as bigint) as usual_cents
    from pieces
    join known on known.product = pieces.product
    left join usual on usual.product = known.product and usual.layer = known.layer
    left join layers on layers.piece = pieces.piece and layers.layer = known.layer
)

select * from compared where cents <> 0 or usual_cents <> 0
