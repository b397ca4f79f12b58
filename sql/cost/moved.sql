-- One row per movement of cents, of what left pieces one a piece, event, day, layer and origin. It
-- carries every cent, as the trace does, and says less of those that left a piece.
-- @view
select * from cost.movement
union all by name
select * from cost._pool_given
union all by name
select * from cost.piece_left
