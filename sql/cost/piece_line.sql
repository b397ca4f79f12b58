-- One row per piece, layer and operation of its cost, with what is usual for its product.
-- Usual is the median over the product's finished pieces, for one unit, times the units of this
-- piece; a line that most of them lack is usual at zero. Of what was there when the records began
-- nobody knows what its cost is made of: it is no measure. A line that the product usually has and
-- this piece lacks stands here with zero cents.
-- What was saved from a scrapped piece can leave a layer below zero.
-- @view
with compared as (
    select
        piece.piece, usual.layer, usual.operation,
        coalesce(lines.cents, 0) as cents, coalesce(lines.rework_cents, 0) as rework_cents,
        coalesce(lines.assumed_cents, 0) as assumed_cents,
        coalesce(lines.estimated_cents, 0) as estimated_cents,
        coalesce(lines.records, 0) as records, coalesce(lines.seconds, 0) / 3600 as hours,
        cast(coalesce(usual.unit_cents, 0) * piece.quantity as bigint) as usual_cents,
        usual.pieces as usual_pieces
    from cost.piece as piece
    join cost._usual_line as usual on usual.product = piece.product
    left join cost._piece_sum as lines
        on lines.piece = piece.piece and lines.layer = usual.layer
        and lines.operation = usual.operation
)

select * from compared where cents <> 0 or usual_cents <> 0
