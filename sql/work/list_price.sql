-- One row per piece and day from which so much is asked for one of it, each until the next.
-- The price on the piece's own row holds from the day it was listed on, or from the first on where
-- that isn't told. A later one stands on a row of moves of its day, and the piece may have stayed
-- where it was. Of a day's prices that of a move stands before the piece's own, and of several the
-- lowest: no buyer pays more than that.
-- @key piece, from_date
-- @check list_price_cents >= 0
with told as (
    select
        piece, coalesce(listed, date '0001-01-01') as from_date, 1 as turn, list_price_cents, row_id
    from records.pieces
    union all by name
    select piece.piece, moved.on_date as from_date, 0 as turn, moved.list_price_cents, moved.row_id
    from records.moves as moved
    join records.moves_piece as piece on piece.row_id = moved.row_id
)

select piece, from_date, list_price_cents, row_id
from told
where list_price_cents is not null and piece is not null
qualify row_number() over (
    partition by piece, from_date order by turn, list_price_cents, row_id
) = 1
