-- One row per month and product with what material the units sold took, item by item: cents sold and quantity.
-- Wood goes by volume and resin by weight, whatever their item, so that a dearer slab shows as price and a worse yield as
-- quantity. The quantity is what went into the pieces, by the units sold of each.
-- @key month, product, material
with moved as (
    select trace.* replace (
        case when layer in ('resin', 'resin waste') then in_base(quantity, trace.unit, 'mg', coalesce(item.density_ug_per_ul, 1100), item.kit_ul) else quantity end as quantity
    )
    from cost.trace
    left join work.item on item.item = trace.item
    where from_place = 'stock' and to_place = 'piece' or from_place = 'piece' and to_place = 'stock'
),

into_pieces as (
    select
        piece, case when layer in ('wood', 'offcut') then 'wood' when layer in ('resin', 'resin waste') then 'resin' else item end as material,
        sum(case when to_place = 'piece' then quantity else -quantity end) as quantity
    from moved where quantity is not null
    group by all
),

sold as (
    select entry.month, entry.product, entry.piece, sum(entry.units) as units, any_value(piece.units) as all_units
    from money._margin_entry as entry
    join work.piece on piece.piece = entry.piece
    where entry.units <> 0 group by entry.month, entry.product, entry.piece
),

quantities as (
    select sold.month, sold.product, into_pieces.material, sum(sign(sold.units) * cut(cast(into_pieces.quantity as bigint), cast(abs(sold.units) as bigint), sold.all_units)) as quantity
    from sold join into_pieces on into_pieces.piece = sold.piece
    group by all
),

cents as (
    select
        line.month, coalesce(piece.product, sale.product, 'not stated') as product,
        case when layer in ('wood', 'offcut') then 'wood' when layer in ('resin', 'resin waste') then 'resin' when layer = 'spoilage' then 'spoilage' else coalesce(line.item, layer) end as material,
        -sum(line.cents) as cents
    from money._plain_line as line
    left join work.piece on piece.piece = line.piece
    left join money._sale as sale on sale.row_id = line.row_id
    where line.line = 'cost of sales' and layer not in ('labour', 'machine', 'overhead')
    group by all
)

select cents.month, cents.product, cents.material, cast(cents.cents as bigint) as cents, cast(coalesce(quantities.quantity, 0) as bigint) as quantity
from cents
left join quantities on quantities.month = cents.month and quantities.product = cents.product and quantities.material = cents.material
