-- One row per defect that an inspection found: where, what was decided, and what mending or losing the piece cost.
-- The cost of a piece's rework, and of a scrapped piece all of it, goes to its defects in equal parts.
-- @key row_id
with looks as (
    select
        inspections.row_id, inspections.on_date, inspections.piece, inspections.defect, coalesce(inspections.action, 'none') as action,
        inspections.found_at, inspections.cause as cause_said
    from records.inspections
    where inspections.piece is not null and inspections.defect is not null and inspections.defect <> 'none'
),

costly as (
    select
        looks.*,
        cost.rework_cents + case when cost.status = 'scrapped' then cost.made_cents - cost.rework_cents else 0 end as piece_cents,
        row_number() over (partition by looks.piece order by looks.row_id) as number,
        count(*) over (partition by looks.piece) as defects
    from looks
    join cost.piece as cost on cost.piece = looks.piece
)

select
    row_id, on_date, piece, defect, action, found_at, cause_said,
    cast(cut(piece_cents, number, defects) - cut(piece_cents, number - 1, defects) as bigint) as cents
from costly
