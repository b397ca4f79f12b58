-- One row per pool, stretch of work, piece and origin: the pool's cents that went into the piece
-- with it. What mends a piece is among the movements.
-- @view
select
    on_date, row_id, paid_row_id, case when cents < 0 then 'piece' else 'pool' end as from_place,
    case when cents < 0 then 'pool' else 'piece' end as to_place, layer, origin, operation, piece,
    pool as item, abs(cents) as cents, rework, assumed, estimated
from cost._applied where cents <> 0 and not rework
