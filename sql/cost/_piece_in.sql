-- One row per cost that enters a piece, its share of spoilage included.
-- @view
select * from cost._piece_base
union all by name
select
    on_date, row_id, row_id as paid_row_id, 'pool' as from_place, layer, origin, piece,
    'spoilage' as item, cents, false as rework, false as assumed, false as estimated
from cost._spoilage where place = 'piece'
