-- One row per cost of what was done for a piece, spoilage aside, with the record that caused it and
-- the one that paid for it. All of it enters the piece but for rework beyond what is normal.
-- @view
select * from cost._piece_direct
union all by name
select
    on_date, row_id, paid_row_id, 'pool' as from_place, layer, origin, operation, piece,
    pool as item, cents, rework, assumed, estimated
from cost._applied
