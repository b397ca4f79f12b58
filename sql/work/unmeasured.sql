-- One row per use, part of a mix, or count of something that is told in a unit which can't be turned
-- into the one that its item is kept in: 300 ml of what is bought by the piece. It takes nothing
-- from the shelf until a size or a density is known. Kits of unknown size are counted by the kit.
-- @key row_id, item
with told as (
    select row_id, item, quantity, quantity_unit as unit from records.usage
    union all by name
    select row_id, item, quantity, quantity_unit as unit from records.counts
    where worth_cents is null
        and item not in (select item from work.item where category = 'wood')
        and not (
            quantity_unit in ('each', 'kit')
            and unmeasured_flow(item) in (select flow from work.lot)
        )
    union all by name
    select pours.row_id, took.resin as item, part_a as quantity, part_a_unit as unit
    from records.pours
    join work.pour_resin as took on took.pour = pours.pour
    union all by name
    select pours.row_id, took.resin as item, part_b as quantity, part_b_unit as unit
    from records.pours
    join work.pour_resin as took on took.pour = pours.pour
    union all by name
    select
        row_id, colourant as item, colourant_quantity as quantity,
        colourant_quantity_unit as unit, 1000 as density
    from records.pours
)

select told.row_id, told.item, min(told.unit) as unit
from told
join work.item on item.item = told.item
where told.quantity > 0 and in_base(
        told.quantity, told.unit, item.unit, coalesce(item.density_ug_per_ul, told.density),
        item.kit_ul, kit_mg := item.kit_mg
    ) is null
group by told.row_id, told.item
