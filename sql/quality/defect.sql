-- One row per defect and decision: how often it was found, on how many pieces, and what mending or losing them cost.
-- The cost of a piece's rework goes to its defects in equal parts.
-- @key defect, action
with found as (
    select inspections.defect, coalesce(inspections.action, 'none') as action, inspections.piece, inspections.row_id
    from records.inspections
    where inspections.piece is not null and inspections.defect is not null and inspections.defect <> 'none'
),

costly as (
    select
        found.*,
        cost.rework_cents + case when cost.status = 'scrapped' then cost.made_cents - cost.rework_cents else 0 end as piece_cents,
        row_number() over (partition by found.piece order by found.row_id) as number,
        count(*) over (partition by found.piece) as defects
    from found
    join cost.piece as cost on cost.piece = found.piece
)

select
    defect, action, count(*) as found, count(distinct piece) as pieces,
    cast(sum(cut(piece_cents, number, defects) - cut(piece_cents, number - 1, defects)) as bigint) as cents
from costly group by defect, action
