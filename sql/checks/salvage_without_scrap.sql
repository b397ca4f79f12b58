-- What was saved from a piece that was not scrapped by the end of that month: it lies on the shelf
-- at no cost. Count it when the piece is scrapped.
-- @severity warning
select lot.lot, lot.item, lot.saved_from, counts.worth_cents
from work.lot
join cost.lot as cost_lot on cost_lot.lot_id = lot.lot_id
join records.counts on counts.row_id = lot.lot_id
where lot.saved_from is not null and counts.worth_cents > 0 and cost_lot.landed_cents = 0
