-- One row per cost that enters a piece, its share of spoilage included.
-- @view
select * from cost._piece_base
union all
select on_date, row_id, row_id, 'pool', layer, origin, null, piece, null, 'spoilage', cents, null, null, false, false, false
from cost._spoilage where place = 'piece'
