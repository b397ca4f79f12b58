-- A piece of which more units were sold or scrapped than made.
-- @severity warning
with gone as (
    select piece, units, 0 as scrapped from work.sale_piece
    union all by name
    select piece, 0 as units, quantity as scrapped
    from records.inspections where action = 'scrap' and quantity is not null
),

sums as (select piece, sum(units) as sold, sum(scrapped) as scrapped from gone group by piece)

select piece.piece, piece.units, sums.sold, sums.scrapped
from work.piece
join sums on sums.piece = piece.piece
where sums.sold + sums.scrapped > piece.units
