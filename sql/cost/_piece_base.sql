-- One row per cost that enters a piece before spoilage, with the record that caused it and the one that paid for it.
-- @view
with material as (
    select on_date, row_id, paid_row_id, 'stock' as from_place, layer, origin, cast(null as varchar) as operation, piece, lot, item,
        cents, quantity, unit, rework, assumed, estimated
    from cost._material where place = 'piece'
),

offcut as (
    select on_date, row_id, paid_row_id, 'stock', 'offcut', 'wood', null, piece, lot, item, cents, quantity, 'mm3', false, false, false
    from cost._offcut where place = 'piece'
),

labour as (
    select on_date, row_id, paid_row_id, from_place, 'labour', origin, operation, piece, null, null, cents, seconds, 's', rework, assumed, estimated
    from cost._labour where place = 'piece'
),

applied as (
    select on_date, row_id, paid_row_id, 'pool', layer, origin, operation, piece, null, pool, cents, null, null, rework, false, estimated
    from cost._applied
),

opening as (
    select shop.start, pieces.row_id, pieces.row_id, 'setting', 'wood', 'wood', null, pieces.piece, null, null, pieces.opening_cost_cents, null, null, false, false, false
    from records.pieces cross join settings.shop
    where pieces.opening_cost_cents is not null
),

salvage as (
    select on_date, lot_id, lot_id, 'stock', category, category, null, piece, lot, item, -cents, -quantity, unit, false, false, false
    from cost._salvage where cents > 0
)

select * from material
union all select * from offcut
union all select * from labour
union all select * from applied
union all select * from opening
union all select * from salvage
