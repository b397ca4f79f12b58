-- One row per finished piece of which units are on no tagged sale, with what it was offered for.
-- What is made to order waits for its order.
-- @key piece
with taken as (
    -- what was scrapped or kept when it came back is not for sale again
    select tagged.piece, sum(tagged.units) as units
    from work._tagged as tagged
    join records.sales on sales.row_id = tagged.row_id
    where tagged.units > 0 or coalesce(sales.returned_to, 'stock') = 'stock'
    group by tagged.piece
)

select
    piece.piece, piece.product, piece.finished_on, pieces.list_price_cents,
    cast(piece.units - coalesce(taken.units, 0) as bigint) as units
from work.piece
join records.pieces on pieces.piece = piece.piece
left join taken on taken.piece = piece.piece
where piece.finished_on is not null and piece.status = 'finished' and piece.order_no is null and piece.units > coalesce(taken.units, 0)
