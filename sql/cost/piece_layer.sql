-- One row per piece and layer of its cost, with what is usual for its product.
-- Usual is the median over the product's finished pieces, for one unit, times the units of this
-- piece: the usual of a layer is no sum of the usual lines in it. What was there when the records
-- began is no measure. A layer that the product usually has and this piece lacks stands here with
-- zero cents.
-- What was saved from a scrapped piece can leave a layer below zero.
-- @view
with counted as (
    -- a record may stand in several lines of a layer
    select piece, layer, count(distinct row_id) as records from cost._piece_in group by piece, layer
),

layers as (
    select
        piece, layer, cast(sum(cents) as bigint) as cents,
        cast(sum(rework_cents) as bigint) as rework_cents
    from cost._piece_sum group by piece, layer
),

compared as (
    select
        piece.piece, usual.layer, coalesce(layers.cents, 0) as cents,
        coalesce(layers.rework_cents, 0) as rework_cents,
        coalesce(counted.records, 0) as records,
        cast(coalesce(usual.unit_cents, 0) * piece.quantity as bigint) as usual_cents,
        usual.pieces as usual_pieces
    from cost.piece as piece
    join cost._usual_layer as usual on usual.product = piece.product
    left join layers on layers.piece = piece.piece and layers.layer = usual.layer
    left join counted on counted.piece = piece.piece and counted.layer = usual.layer
)

select * from compared where cents <> 0 or usual_cents <> 0
