-- One row per defect that an inspection found: where, what was decided, and what mending or losing
-- the piece cost.
-- The cost of a piece's rework, and of its scrapped units all of theirs, goes to its defects in
-- equal parts.
-- @key row_id
with looks as (
    select
        inspections.row_id, inspections.on_date, inspections.piece, inspections.defect,
        coalesce(inspections.action, 'none') as action, inspections.found_at,
        inspections.cause as cause_said, inspections.quantity
    from records.inspections
    where inspections.piece is not null and inspections.defect is not null
        and inspections.defect <> 'none'
),

costly as (
    select
        looks.*,
        cost.rework_cents + coalesce(cost.rework_lost_cents, 0)
            + coalesce(lost.cents - lost.rework_cents, 0) as piece_cents,
        row_number() over (
            partition by looks.piece
            order by
                looks.on_date, looks.defect, looks.found_at, looks.action, looks.quantity,
                looks.cause_said, looks.row_id
        ) as number,
        count(*) over (partition by looks.piece) as defects
    from looks
    join cost.piece as cost on cost.piece = looks.piece
    left join quality._lost as lost on lost.piece = looks.piece
)

select
    row_id, on_date, piece, defect, action, found_at, cause_said,
    cast(share(piece_cents, number - 1, number, defects) as bigint) as cents
from costly
