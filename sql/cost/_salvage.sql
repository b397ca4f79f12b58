-- One row per lot saved from a piece: what it is worth leaves a piece that was scrapped, or was a test, for the shelf.
-- It is worth nothing here as long as the piece is not gone: its cost is in the piece.
-- @key lot_id
with gone as (
    select piece, arg_max(units_out, number) >= any_value(units) and bool_or(place = 'pool') as scrapped from work.exit group by piece
)

select
    lot.lot_id, lot.on_date, lot.lot, lot.item, lot.category, lot.quantity, lot.unit, lot.saved_from as piece,
    case when gone.scrapped then counts.worth_cents else 0 end as cents
from work.lot
join records.counts on counts.row_id = lot.lot_id
left join gone on gone.piece = lot.saved_from
where lot.saved_from is not null
