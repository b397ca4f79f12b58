-- One row per draw on stock: a blank cut, resin poured, colourant stirred in, material taken off
-- the shelf.
-- `use_id` is the `draw_id` of `sql/macros.sql`. A draw that names a lot is held to it first.
-- `day_turn` is its number among the draws of its day: blanks by piece, pours, what was taken off the
-- shelf by item and quantity, sales and losses of lots.
-- @key use_id
-- From a lot of unknown size nothing is drawn but all of it.
with lots as (
    select
        lot, arg_min(lot_id, (on_date, day_turn)) as lot_id,
        arg_min(flow, (on_date, day_turn)) as flow,
        arg_min(flow, (on_date, day_turn)) like 'unmeasured/%' as unmeasured
    from work.lot where lot is not null group by lot
),

blanks as (
    select
        draw_id(piece.row_id, 0) as use_id, piece.row_id, piece.started_on as on_date,
        'blank' as source, 1 as turn, piece.piece as tag,
        coalesce(lots.flow, 'wood/' || piece.species) as flow, lots.lot_id,
        piece.blank_mm3 as quantity, 'mm3' as unit
    from work.piece
    left join lots on lots.lot = piece.lot and not lots.unmeasured
    where not piece.opening and piece.blank_mm3 > 0
        and piece.piece not in (
            select bridge.piece from records.usage_piece as bridge
            join records.usage on usage.row_id = bridge.row_id
            join work.item on item.item = usage.item
            where item.category = 'wood'
        )
),

pours as (
    select
        draw_id(pour.row_id, 0) as use_id, pour.row_id, pour.on_date, 'pour' as source,
        2 as turn, pour.pour as tag,
        pour.resin as flow, lots.lot_id,
        case when item.unit = 'mg' then pour.resin_mg
             else in_base(pour.resin_mg, 'mg', item.unit, item.density_ug_per_ul, item.kit_ul)
             end as quantity,
        item.unit
    from work.pour
    join work.item on item.item = pour.resin
    left join lots on lots.lot = pour.lot and lots.flow = pour.resin
),

colourants as (
    select
        draw_id(pour.row_id, 1) as use_id, pour.row_id, pour.on_date, 'colourant' as source,
        3 as turn, pour.pour as tag,
        pour.colourant as flow,
        in_base(
            pour.colourant_quantity, pour.colourant_unit, item.unit,
            coalesce(item.density_ug_per_ul, 1000), item.kit_ul,
            kit_mg := item.kit_mg
        ) as quantity,
        item.unit
    from work.pour
    join work.item on item.item = pour.colourant
    where not exists (
        -- the same colourant on the usage list of that day is the other view of one event
        select 1 from records.usage
        where usage.item = pour.colourant and usage.on_date = pour.on_date
    )
),

used as (
    select
        draw_id(usage.row_id, 0) as use_id, usage.row_id, usage.on_date, 'usage' as source,
        4 as turn, usage.lot, usage.pieces,
        coalesce(
            lots.flow,
            case when item.category = 'wood'
                 then (select min(lot.flow) from work.lot where lot.item = usage.item) end,
            usage.item
        ) as flow,
        lots.lot_id,
        in_base(
            usage.quantity, usage.quantity_unit, item.unit, item.density_ug_per_ul, item.kit_ul,
            kit_mg := item.kit_mg
        ) as quantity,
        item.unit
    from records.usage
    join work.item on item.item = usage.item
    left join lots on lots.lot = usage.lot and not lots.unmeasured
    where item.category <> 'resin' or not exists (
        -- resin that a pour of that day already took
        select 1 from work.pour where pour.resin = usage.item and pour.on_date = usage.on_date
    )
),

sold_lots as (
    select
        draw_id(sales.row_id, 3) as use_id, sales.row_id, sales.on_date, 'lot sale' as source,
        5 as turn, sales.order_no as tag,
        lot.flow, lot.lot_id, coalesce(purchases.count, 1) as slabs,
        cut(lot.quantity, least(coalesce(sales.quantity, 1), slabs), slabs) as quantity, lot.unit
    from records.sales
    join lots on lots.lot = sales.lot
    join work.lot on lot.lot_id = lots.lot_id
    left join records.purchases on purchases.row_id = lot.lot_id
    where sales.piece is null and coalesce(sales.quantity, 1) > 0
),

-- a slab that split, or was lost, given up or taken home: the difference of what is left to what
-- the book says
lost_wood as (
    select
        draw_id(counts.row_id, 3) as use_id, counts.row_id, counts.on_date, 'lot loss' as source,
        6 as turn, counts.lot as tag,
        lot.flow, lot.lot_id,
        lot.quantity - coalesce((
            select sum(blanks.quantity) from blanks
            where blanks.lot_id = lot.lot_id and blanks.on_date <= counts.on_date
        ), 0) - coalesce(
            in_base(counts.quantity, counts.quantity_unit, 'mm3', null, null), 0
        ) as quantity,
        lot.unit
    from records.counts
    join lots on lots.lot = counts.lot
    join work.lot on lot.lot_id = lots.lot_id
    where lot.category = 'wood' and counts.cause in ('split', 'lost', 'expired', 'own use')
),

-- what ought to be in a piece and nobody logged
lacking as (
    select
        draw_id(row_id, 7 + number) as use_id, row_id, on_date, 'lacking' as source,
        7 as turn, piece as tag, flow, quantity, unit
    from work.use_missing
),

draws as (
    select * from blanks
    union all by name select * from pours
    union all by name select * from colourants
    union all by name select * from used
    union all by name select * from sold_lots
    union all by name select * from lost_wood
    union all by name select * from lacking
)

select
    use_id, row_id, on_date, source, flow, lot_id, cast(quantity as bigint) as quantity, unit,
    row_number() over in_day as day_turn
from draws
where quantity > 0 and flow is not null
window in_day as (
    partition by on_date order by turn, tag, flow, quantity, lot, pieces, use_id
)
