-- One row per finished piece, operation and machine whose hours nobody logged, or not all of them,
-- though most comparable pieces have them: the seconds that are lacking.
-- @key piece, operation, machine
select
    lacking.piece, lacking.name as operation, lacking.part as machine, piece.row_id,
    piece.finished_on as on_date, lacking.amount as seconds
from work._lacking as lacking
join work.piece on piece.piece = lacking.piece
where lacking.want = 'machine' and piece.status = 'finished' and piece.finished_on is not null
