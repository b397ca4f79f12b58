-- A piece of which more units left than were made.
-- @severity warning
select piece.piece, piece.units, sum(sale_piece.units) as sold from work.piece
join work.sale_piece on sale_piece.piece = piece.piece
group by piece.piece, piece.units having sum(sale_piece.units) > piece.units
