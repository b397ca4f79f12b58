-- One row per item and day on which all of it was counted; a later count begins where this ended.
-- Kits whose size nobody knows are counted by the kit: they are a flow of their own, and where none
-- of the item is left, none of either is.
-- What later draws will take by the name of their lot lies on the shelf too, but no other draw can
-- have it: it is left out. Counts of single lots, and what was there at the start, are not of this
-- kind.
-- @key flow, on_date
with counted as (
    select
        counts.row_id, counts.item, counts.on_date, counts.cause, counts.quantity as things,
        counts.quantity_unit,
        -- none is none in any unit
        case when counts.quantity = 0 then 0 else in_base(
            counts.quantity, counts.quantity_unit, item.unit, item.density_ug_per_ul, item.kit_ul,
            kit_mg := item.kit_mg
        ) end as quantity
    from records.counts
    join work.item on item.item = counts.item
    where counts.worth_cents is null and item.category <> 'wood'
),

unsized as (select distinct item from work.lot where flow = unmeasured_flow(item)),

of_flow as (
    select item as flow, on_date, row_id, cause, quantity from counted where quantity is not null
    union all by name
    select unmeasured_flow(counted.item) as flow, on_date, row_id, cause, things as quantity
    from counted
    semi join unsized on unsized.item = counted.item
    where counted.quantity is null and counted.quantity_unit in ('each', 'kit') or counted.things = 0
),

whole as (
    select
        flow, on_date, min(row_id) as row_id, min(cause) as cause,
        cast(sum(quantity) as bigint) as quantity
    from of_flow
    group by flow, on_date
),

promised as (
    select whole.flow, whole.on_date, sum(named.to_quantity - named.from_quantity) as quantity
    from whole
    join work.lot on lot.flow = whole.flow and lot.on_date <= whole.on_date
    join work._named as named on named.lot_id = lot.lot_id
    join work.use on use.use_id = named.use_id and use.on_date > whole.on_date
    group by whole.flow, whole.on_date
)

select
    whole.flow, whole.on_date, whole.row_id, whole.cause,
    cast(greatest(whole.quantity - coalesce(promised.quantity, 0), 0) as bigint) as quantity
from whole
left join promised on promised.flow = whole.flow and promised.on_date = whole.on_date
