-- One row per piece that has been judged, as in quality._judged, with what its rework, its scrap
-- and its defects cost.
-- Rework on what was scrapped later is lost with it: defects cost it once.
-- @key piece
select
    judged.*, cost.rework_cents + coalesce(cost.rework_lost_cents, 0) as rework_cents,
    coalesce(lost.cents, 0) as scrap_cents,
    case when judged.defects > 0
         then cost.rework_cents + coalesce(cost.rework_lost_cents, 0) + coalesce(lost.cents - lost.rework_cents, 0)
         else 0 end as defect_cents
from quality._judged as judged
join cost.piece as cost on cost.piece = judged.piece
left join quality._lost as lost on lost.piece = judged.piece
