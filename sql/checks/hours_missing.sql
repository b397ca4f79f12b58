-- A finished piece without any hours: its work is missing from its cost.
-- @severity warning
select piece.piece, piece.product, piece.finished from cost.piece
join work.piece as sizes on sizes.piece = piece.piece and not sizes.opening
where piece.status = 'finished' and piece.hours = 0 and piece.made_cents > 0
