-- One row per piece, layer and operation of its cost, with what is usual for its product.
-- Usual is the median over the product's finished pieces, for one unit, times the units of this
-- piece; a line that most of them lack is usual at zero. Of what was there when the records began
-- nobody knows what its cost is made of: it is no measure. A line that the product usually has and
-- this piece lacks stands here with zero cents.
-- @key piece, layer, operation
-- What was saved from a scrapped piece can leave a layer below zero.
-- @check cents <> 0 or usual_cents > 0
with lines as (select * from cost._piece_sum),

pieces as (
    select
        piece.piece, piece.product, piece.quantity,
        piece.status = 'finished' and not coalesce(work_piece.opening, false) as told
    from cost.piece as piece
    left join work.piece as work_piece on work_piece.piece = piece.piece
),

known as (
    select distinct pieces.product, lines.layer, lines.operation
    from lines
    join pieces on pieces.piece = lines.piece
),

usual as (
    select
        known.product, known.layer, known.operation,
        quantile_disc(
            cut(greatest(coalesce(lines.cents, 0), 0), 1, pieces.quantity), 0.5
        ) as unit_cents,
        count(*) as pieces
    from known
    join pieces on pieces.product = known.product and pieces.told
    left join lines
        on lines.piece = pieces.piece and lines.layer = known.layer
        and lines.operation = known.operation
    group by known.product, known.layer, known.operation
),

compared as (
    select
        pieces.piece, known.layer, known.operation,
        coalesce(lines.cents, 0) as cents, coalesce(lines.rework_cents, 0) as rework_cents,
        coalesce(lines.assumed_cents, 0) as assumed_cents,
        coalesce(lines.estimated_cents, 0) as estimated_cents,
        coalesce(lines.records, 0) as records, coalesce(lines.seconds, 0) / 3600 as hours,
        cast(coalesce(usual.unit_cents, 0) * pieces.quantity as bigint) as usual_cents,
        coalesce(usual.pieces, 0) as usual_pieces
    from pieces
    join known on known.product = pieces.product
    left join usual
        on usual.product = known.product and usual.layer = known.layer
        and usual.operation = known.operation
    left join lines
        on lines.piece = pieces.piece and lines.layer = known.layer
        and lines.operation = known.operation
)

select * from compared where cents <> 0 or usual_cents <> 0
