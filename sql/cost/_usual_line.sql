-- One row per product, layer and operation that any piece of it has: the median over the product's
-- finished pieces, for one unit, and over how many; a line that most of them lack is usual at zero.
-- Of what was there when the records began nobody knows what its cost is made of: it is no measure.
-- @key product, layer, operation
with lines as (select * from cost._piece_sum),

told as (
    select piece.piece, piece.product, piece.quantity
    from cost.piece as piece
    left join work.piece as work_piece on work_piece.piece = piece.piece
    where piece.status = 'finished' and not coalesce(work_piece.opening, false)
),

known as (
    select distinct piece.product, lines.layer, lines.operation
    from lines
    join cost.piece as piece on piece.piece = lines.piece
    where piece.product is not null
)

select
    known.product, known.layer, known.operation,
    quantile_disc(cut(greatest(coalesce(lines.cents, 0), 0), 1, told.quantity), 0.5) as unit_cents,
    count(told.piece) as pieces
from known
left join told on told.product = known.product
left join lines
    on lines.piece = told.piece and lines.layer = known.layer
    and lines.operation = known.operation
group by known.product, known.layer, known.operation
