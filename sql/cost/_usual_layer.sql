-- One row per product and layer that any piece of it has: the median over the product's finished
-- pieces, for one unit, and over how many. What was there when the records began is no measure.
-- @key product, layer
with layers as (
    select piece, layer, sum(cents) as cents from cost._piece_sum group by piece, layer
),

told as (
    select piece.piece, piece.product, piece.quantity
    from cost.piece as piece
    left join work.piece as work_piece on work_piece.piece = piece.piece
    where piece.status = 'finished' and not coalesce(work_piece.opening, false)
),

known as (
    select distinct piece.product, layers.layer
    from layers
    join cost.piece as piece on piece.piece = layers.piece
    where piece.product is not null
)

select
    known.product, known.layer,
    quantile_disc(
        cut(cast(greatest(coalesce(layers.cents, 0), 0) as bigint), 1, told.quantity), 0.5
    ) as unit_cents,
    count(told.piece) as pieces
from known
left join told on told.product = known.product
left join layers on layers.piece = told.piece and layers.layer = known.layer
group by known.product, known.layer
