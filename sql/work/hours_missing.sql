-- One row per finished piece and operation that nobody logged though most comparable pieces have
-- it: the usual seconds.
-- @key piece, operation
with has as (
    select distinct shares.piece, hours.operation
    from work.hours_piece as shares join work.hours on hours.row_id = shares.row_id
)

select usual.piece, usual.operation, piece.row_id, piece.finished_on as on_date, usual.seconds
from work._usual as usual
join work.piece on piece.piece = usual.piece
anti join has on has.piece = usual.piece and has.operation = usual.operation
where piece.status = 'finished' and piece.finished_on is not null
