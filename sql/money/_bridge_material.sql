-- One row per month and product with what material the units sold took, item by item: cents sold
-- and quantity.
-- Wood goes by volume and resin by weight, whatever their item, so that a dearer slab shows as
-- price and a worse yield as quantity. The quantity is what went into the pieces, by the units sold
-- of each.
-- @key month, product, material
with items as (select item, density_ug_per_ul as density, kit_ul from work.item),

-- what goes by volume or weight is said by layer, not by its group: colourant goes item by item
moved as (
    select
        movement.* exclude (quantity),
        case when layer in ('resin', 'resin waste')
             then in_base(quantity, unit, 'mg', coalesce(density, 1100), kit_ul)
             else quantity end as quantity
    from cost.movement
    left join items on items.item = movement.item
    where from_place = 'stock' and to_place = 'piece' or from_place = 'piece' and to_place = 'stock'
),

into_pieces as (
    select
        piece,
        case when layer in ('wood', 'offcut') then 'wood'
             when layer in ('resin', 'resin waste') then 'resin'
             else item end as material,
        cast(
            sum(case when to_place = 'piece' then quantity else -quantity end) as bigint
        ) as quantity
    from moved where quantity is not null
    group by all
),

sold as (
    select
        entry.month, entry.product, entry.piece,
        cast(sum(entry.units) as bigint) as units, any_value(piece.units) as all_units
    from money._margin_entry as entry
    join work.piece on piece.piece = entry.piece
    where entry.units <> 0 group by entry.month, entry.product, entry.piece
),

parts as (
    select
        sold.month, sold.product, into_pieces.material, sign(sold.units) as way,
        cut(into_pieces.quantity, abs(sold.units), sold.all_units) as quantity
    from sold
    join into_pieces on into_pieces.piece = sold.piece
),

quantities as (
    select month, product, material, sum(way * quantity) as quantity
    from parts group by month, product, material
),

cents as (
    select
        line.month, coalesce(piece.product, sale.product, 'not stated') as product,
        case when line.layer in ('wood', 'offcut') then 'wood'
             when line.layer in ('resin', 'resin waste') then 'resin'
             when line.layer = 'spoilage' then 'spoilage'
             else coalesce(line.item, line.layer) end as material,
        -sum(line.cents) as cents
    from money._line_sum as line
    join settings.layer as known on known.layer = line.layer
    left join work.piece on piece.piece = line.piece
    left join money._sale as sale on sale.row_id = line.row_id
    where line.line = 'cost of sales' and cost_group not in ('labour', 'machine', 'overhead')
    group by all
)

select
    cents.month, cents.product, cents.material,
    cast(cents.cents as bigint) as cents,
    cast(coalesce(quantities.quantity, 0) as bigint) as quantity
from cents
left join quantities
    on quantities.month = cents.month and quantities.product = cents.product
    and quantities.material = cents.material
