-- One row per draw on stock and place it goes to, with the weight that its cost is shared by.
-- A pour goes to its pieces as resin (what is good in them) and as resin waste (all else, shared by
-- deposit); a pour without a piece is waste. What a count shows to be used of finishes and fittings
-- is estimated of each piece; abrasives and the like go by hours, which are measured. Work on a
-- piece that is out of the shop is a cost of its month.
-- @key use_id, place, layer, piece
with draws as (
    select use.*, pour.pour
    from work.use
    left join work.pour on pour.row_id = use.row_id and use.source in ('pour', 'colourant')
),

cut_out as (
    select
        draws.use_id, 'piece' as place, 'wood' as layer, piece.piece, 1 as weight, false as rework,
        piece.lot is null as assumed, piece.blank_estimated as estimated
    from draws
    join work.piece on piece.row_id = draws.row_id
    where draws.source = 'blank'
),

poured as (
    select
        draws.use_id, draws.source, draws.pour, pour_piece.piece, pour_piece.rework,
        pour_piece.after_sale, pour_piece.good_mg, pour_piece.deposited_mg,
        -- all of a pour for one piece is that piece's, whatever of it was deposited there
        pour_piece.estimated and (pour.pieces > 1 or pour.mix_estimated) as estimated,
        pour.mixed_mg, pour.deposited_mg as all_mg,
        pour.resin_assumed and draws.source = 'pour' as assumed,
        sum(pour_piece.deposited_mg) over in_turn as to_mg,
        piece.units, sum(piece.units) over in_turn as to_units,
        sum(piece.units) over (partition by draws.use_id) as all_units
    from draws
    join work.pour on pour.pour = draws.pour
    join work.pour_piece on pour_piece.pour = draws.pour
    join work.piece on piece.piece = pour_piece.piece
    window in_turn as (partition by draws.use_id order by pour_piece.piece)
),

good as (
    select
        use_id, case when after_sale then 'period' else 'piece' end as place,
        case source when 'colourant' then 'colourant' else 'resin' end as layer, piece,
        case when source <> 'colourant' then good_mg
             when all_mg > 0 then deposited_mg
             else units end as weight,
        rework, assumed, estimated
    from poured
),

wasted as (
    select
        use_id, case when after_sale then 'period' else 'piece' end as place,
        'resin waste' as layer, piece,
        deposited_mg - good_mg + case
            when all_mg > 0
            then share(greatest(mixed_mg - all_mg, 0), to_mg - deposited_mg, to_mg, all_mg)
            else share(greatest(mixed_mg, 0), to_units - units, to_units, all_units) end as weight,
        rework, assumed, estimated
    from poured where source = 'pour'
),

pieceless as (
    select use_id, 'waste' as place, 'resin waste' as layer, 1 as weight
    from draws
    where source in ('pour', 'colourant') and pour not in (select pour from work.pour_piece)
),

shared as (
    select
        draws.use_id, bridge.piece, draws.on_date, item.category,
        piece.units,
        coalesce(case item.driver
            when 'area' then piece.area_mm2
            when 'volume' then piece.blank_mm3
            else piece.units end, 0) as weight
    from draws
    join records.usage on usage.row_id = draws.row_id and draws.source = 'usage'
    join work.item on item.item = usage.item
    join records.usage_piece as bridge on bridge.row_id = draws.row_id
    join work.piece on piece.piece = bridge.piece
),

used as (
    select
        shared.use_id,
        case when exists (
                 select 1 from work.out
                 where out.piece = shared.piece and out.from_on < shared.on_date
                     and (out.to_on is null or shared.on_date <= out.to_on)
             ) then 'period'
             when shared.category = 'packaging' then 'sold'
             else 'piece' end as place,
        shared.category as layer, shared.piece,
        case when sum(shared.weight) over (partition by shared.use_id) = 0 then shared.units
             else shared.weight end as weight,
        exists(
            select 1 from work.rework_window as again
            where again.piece = shared.piece and again.from_on <= shared.on_date
                and (again.to_on is null or shared.on_date <= again.to_on)
        ) as rework
    from shared
),

lacking as (
    select
        draws.use_id, 'piece' as place, item.category as layer, piece.piece, 1 as weight,
        true as estimated
    from draws
    join work.item on item.item = draws.flow
    join work.piece on piece.row_id = draws.row_id
    where draws.source = 'lacking'
),

loose as (
    select draws.use_id, 'period' as place, item.category as layer, 1 as weight
    from draws
    join records.usage on usage.row_id = draws.row_id and draws.source = 'usage'
    join work.item on item.item = usage.item
    where draws.use_id not in (select use_id from shared)
),

found_short as (
    select
        short_id(counted.row_id, counted.flow) as use_id,
        case counted.cause when 'own use' then 'own use' else 'waste' end as place,
        item.category as layer, 1 as weight
    from work.counted as counted
    join work.item on item.item = item_of(counted.flow)
    where counted.found < 0
),

found_again as (
    select again_id(found.row_id, found.flow) as use_id, 'waste' as place, item.category as layer, 1 as weight
    from work.found
    join work.item on item.item = item_of(found.flow)
    where found.again > 0
),

by_count as (
    select
        settled.use_id, driver.place, settled.category as layer, driver.piece, driver.weight,
        driver.estimated
    from work.settled
    join work._count_driver as driver
        on driver.row_id = settled.row_id and driver.on_date > settled.after_on
        and driver.on_date <= settled.to_on
    where not settled.spread
),

spread as (
    select
        settled.use_id, driver.place, settled.category as layer, driver.piece, driver.weight,
        true as estimated
    from (
        select distinct use_id, flow, category, after_on, to_on from work.settled where spread
    ) as settled
    join work._driver_use as driver
        on driver.category = settled.category and driver.on_date > settled.after_on
        and driver.on_date <= settled.to_on
    left join work.piece on piece.piece = driver.piece
    where settled.flow not in (select item from work._finish_of)
        or (settled.flow, piece.finish) in (select (item, finish) from work._finish_of)
),

by_driver as (
    select
        use_id, place, layer, piece, estimated, cast(sum(weight) as bigint) as weight
    from (select * from by_count union all by name select * from spread)
    group by use_id, place, layer, piece, estimated
),

lots_gone as (
    select
        draws.use_id, lot.category as layer, 1 as weight,
        case when draws.source = 'lot sale' then 'sold'
             when counts.cause = 'own use' then 'own use'
             else 'waste' end as place
    from draws
    join work.lot on lot.lot_id = draws.lot_id
    left join records.counts on counts.row_id = draws.row_id
    where draws.source in ('lot sale', 'lot loss')
),

targets as (
    select * from cut_out
    union all by name select * from good
    union all by name select * from wasted
    union all by name select * from pieceless
    union all by name select * from used
    union all by name select * from lacking
    union all by name select * from loose
    union all by name select * from found_short
    union all by name select * from found_again
    union all by name select * from by_driver
    union all by name select * from lots_gone
)

select
    use_id, place, layer, piece, cast(weight as bigint) as weight,
    coalesce(rework, false) as rework, coalesce(assumed, false) as assumed,
    coalesce(estimated, false) as estimated,
    cast(sum(weight) over so_far as bigint) as to_weight,
    cast(sum(weight) over (partition by use_id) as bigint) as all_weight
from targets
where weight > 0
window so_far as (partition by use_id order by piece, layer, place rows unbounded preceding)
