-- One row per piece and layer of its cost, with what is usual for its product.
-- Usual is the median over the product's finished pieces, for one unit, times the units of this
-- piece: the usual of a layer is no sum of the usual lines in it. What was there when the records
-- began is no measure. A layer that the product usually has and this piece lacks stands here with
-- zero cents.
-- @key piece, layer
-- What was saved from a scrapped piece can leave a layer below zero.
-- @check cents <> 0 or usual_cents > 0
with counted as (
    -- a record may stand in several lines of a layer
    select piece, layer, count(distinct row_id) as records from cost._piece_in group by piece, layer
),

layers as (
    select
        line.piece, line.layer, cast(sum(line.cents) as bigint) as cents,
        cast(sum(line.rework_cents) as bigint) as rework_cents,
        any_value(counted.records) as records
    from cost._piece_sum as line
    join counted on counted.piece = line.piece and counted.layer = line.layer
    group by line.piece, line.layer
),

pieces as (
    select
        piece.piece, piece.product, piece.quantity,
        piece.status = 'finished' and not coalesce(work_piece.opening, false) as told
    from cost.piece as piece
    left join work.piece as work_piece on work_piece.piece = piece.piece
),

known as (
    select distinct pieces.product, layers.layer
    from layers join pieces on pieces.piece = layers.piece
),

usual as (
    select
        known.product, known.layer,
        quantile_disc(
            cut(greatest(coalesce(layers.cents, 0), 0), 1, pieces.quantity), 0.5
        ) as unit_cents,
        count(*) as pieces
    from known
    join pieces on pieces.product = known.product and pieces.told
    left join layers on layers.piece = pieces.piece and layers.layer = known.layer
    group by known.product, known.layer
),

compared as (
    select
        pieces.piece, known.layer, coalesce(layers.cents, 0) as cents,
        coalesce(layers.rework_cents, 0) as rework_cents, coalesce(layers.records, 0) as records,
        cast(coalesce(usual.unit_cents, 0) * pieces.quantity as bigint) as usual_cents,
        coalesce(usual.pieces, 0) as usual_pieces
    from pieces
    join known on known.product = pieces.product
    left join usual on usual.product = known.product and usual.layer = known.layer
    left join layers on layers.piece = pieces.piece and layers.layer = known.layer
)

select * from compared where cents <> 0 or usual_cents <> 0
