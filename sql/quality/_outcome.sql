-- One row per piece that has been judged, as in quality._judged, with what its rework and its loss cost.
-- @key piece
select judged.*, cost.rework_cents, case when cost.status = 'scrapped' then cost.made_cents else 0 end as scrap_cents
from quality._judged as judged
join cost.piece as cost on cost.piece = judged.piece
