-- One row per line of stock from before the day that the records begin whose item was counted for
-- that day: what was left of it is in that count.
-- Wood is counted by species. A slab that the count doesn't name was gone by then, unless something
-- was made of it, sold or counted since.
-- @key row_id
with counted as (
    select distinct counts.item, item.category = 'wood' as wood, counts.species, counts.lot
    from records.counts
    join work.item on item.item = counts.item
    where counts.worth_cents is not null and counts.piece is null
),

lines as (
    select
        purchases.row_id, purchases.item, purchases.species, purchases.lot,
        coalesce(purchases.category, item.category) = 'wood' as wood
    from records.purchases
    join work.item on item.item = purchases.item
    cross join settings.shop
    where purchases.on_date < shop.start
        and purchases.category in (
            'wood', 'resin', 'colourant', 'abrasive', 'finish', 'hardware', 'consumable',
            'packaging'
        )
),

since as (
    select pieces.lot from records.pieces
    cross join settings.shop where coalesce(started, finished, shop.start) >= shop.start
    union all
    select usage.lot from records.usage cross join settings.shop where usage.on_date >= shop.start
    union all
    select sales.lot from records.sales where sales.piece is null
    union all
    select counts.lot from records.counts where counts.worth_cents is null
),

-- counted by lots alone, of which it is none
unnamed as (
    select lines.row_id
    from lines
    join counted on counted.item = lines.item and counted.species is not distinct from lines.species
    where lines.wood and lines.lot in (select lot from since where lot is not null)
    group by lines.row_id
    having bool_and(counted.lot is not null and counted.lot <> lines.lot)
)

select lines.row_id
from lines
semi join counted
    on counted.item = lines.item
    and (not lines.wood or counted.species is not distinct from lines.species)
anti join unnamed on unnamed.row_id = lines.row_id
