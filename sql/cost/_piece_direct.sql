-- One row per cost of what was done for a piece but its share of pools, with the record that caused
-- it and the one that paid for it.
-- @view
with material as (
    select
        on_date, row_id, paid_row_id, 'stock' as from_place, layer, origin,
        cast(null as varchar) as operation,
        piece, lot, item, cents, quantity, unit, rework, assumed, estimated
    from cost._material where place = 'piece'
),

offcut as (
    select
        on_date, row_id, paid_row_id, 'stock' as from_place, 'offcut' as layer, 'wood' as origin,
        piece, lot, item, cents, quantity, 'mm3' as unit
    from cost._offcut where place = 'piece'
),

labour as (
    select
        on_date, row_id, paid_row_id, from_place, 'labour' as layer, origin, operation,
        piece, cents, seconds as quantity, 's' as unit, rework, assumed, estimated
    from cost._labour where place = 'piece'
),

opening as (
    select
        shop.start as on_date, pieces.row_id, pieces.row_id as paid_row_id, 'setting' as from_place,
        'wood' as layer, 'wood' as origin, pieces.piece, pieces.opening_cost_cents as cents
    from records.pieces
    cross join settings.shop
    where pieces.opening_cost_cents is not null
),

salvage as (
    select
        on_date, lot_id as row_id, lot_id as paid_row_id, 'stock' as from_place,
        category as layer, category as origin, piece, lot, item, -cents as cents,
        -quantity as quantity, unit
    from cost._salvage where cents > 0
),

entering as (
    select * from material
    union all by name select * from offcut
    union all by name select * from labour
    union all by name select * from opening
    union all by name select * from salvage
)

select * replace (
    coalesce(rework, false) as rework,
    coalesce(assumed, false)
    or row_id in (select row_id from work.open_row)
    or paid_row_id in (select row_id from work.open_row) as assumed,
    coalesce(estimated, false) as estimated
)
from entering
