-- One row per piece and thing in it that is on record and costs it nothing, since nobody knows what
-- it costs: no price of it is known, its size or its unit tells no quantity, no resin is named, or
-- its hours say that it was poured and no pour is on record. A piece with any of these is not logged
-- in full, however the rest of its cost came about.
-- @key piece, layer, item
with pieces as (select * from work.piece where not opening),

-- what no receipt gives a price for
unpriced as (
    select piece, layer, item, row_id
    from cost._material
    where place = 'piece' and paid_row_id is null and quantity > 0
),

poured as (
    select shares.piece, 'resin' as layer, coalesce(pour.resin, 'resin of ' || pour.pour) as item, shares.row_id
    from work.pour_piece as shares
    join work.pour on pour.pour = shares.pour
    where not exists (
        select 1 from work.use where use.row_id = pour.row_id and use.source = 'pour'
    )
),

coloured as (
    select shares.piece, 'colourant' as layer, pour.colourant as item, shares.row_id
    from work.pour_piece as shares
    join work.pour on pour.pour = shares.pour
    where pour.colourant is not null and not exists (
        select 1 from work.use where use.row_id = pour.row_id and use.source = 'colourant'
    ) and not exists (
        select 1 from records.usage
        where usage.item = pour.colourant and usage.on_date = pour.on_date
    )
),

-- hours of pouring say that there is resin in it
unpoured as (
    select logged.piece, 'resin' as layer, 'resin of no pour' as item, logged.row_id
    from work.hours_piece as logged
    join work.hours on hours.row_id = logged.row_id
    where hours.operation = 'pouring' and not logged.assumed and not logged.after_sale
        and logged.piece not in (select piece from work.pour_piece)
        and logged.piece not in (
            select piece from work.target where layer = 'resin' and piece is not null
        )
        and logged.piece not in (
            select bridge.piece from records.usage_piece as bridge
            join records.usage on usage.row_id = bridge.row_id
            join work.item on item.item = usage.item
            where item.category = 'resin'
        )
),

used as (
    select bridge.piece, item.category as layer, usage.item, usage.row_id
    from records.usage_piece as bridge
    join records.usage on usage.row_id = bridge.row_id
    join work.item on item.item = usage.item
    where usage.quantity > 0 and not exists (
        select 1 from work.use where use.row_id = usage.row_id and use.source = 'usage'
    ) and not exists (
        -- resin that a pour of that day already took
        select 1 from work.pour
        where item.category = 'resin' and pour.resin = usage.item and pour.on_date = usage.on_date
    )
),

-- of wood, by what its own row says, and none of it was taken anywhere
cut as (
    select piece, 'wood' as layer, coalesce(lot, species) as item, row_id
    from pieces
    where coalesce(lot, species) is not null
        and row_id not in (select row_id from work.use where source = 'blank')
        and piece not in (
            select bridge.piece from records.usage_piece as bridge
            join records.usage on usage.row_id = bridge.row_id
            join work.item on item.item = usage.item
            where item.category = 'wood'
        )
),

found as (
    select * from unpriced
    union all by name select * from poured
    union all by name select * from unpoured
    union all by name select * from coloured
    union all by name select * from used
    union all by name select * from cut
)

select found.piece, found.layer, found.item, min(found.row_id) as row_id
from found
join pieces on pieces.piece = found.piece
group by found.piece, found.layer, found.item
