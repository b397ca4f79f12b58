-- One row per item that any record names, with the unit it is kept in and what turns one unit into
-- another.
-- What no line gives a place on the shelf counts as a consumable, such as a saw blade that is
-- counted.
-- The unit is the setting's; else resin, and whatever is poured, is kept in weight, what comes in
-- kits as their size is told, and anything else in the unit it is most often bought in. What is
-- poured can't be kept by the piece.
-- @key item
with named as (
    select item, category, quantity_unit as unit from records.purchases
    union all by name
    select resin as item, 'resin' as category, part_a_unit as unit
    from records.pours where resin is not null
    union all by name
    select colourant as item, 'colourant' as category, colourant_quantity_unit as unit
    from records.pours where colourant is not null
    union all by name
    select item, quantity_unit as unit from records.usage
    union all by name
    select item, category, quantity_unit as unit from records.counts
),

usual as (
    select item, mode(category order by category) as category, mode(unit order by unit) as unit
    from named where item is not null group by item
),

setting as (
    select * from settings.item
    qualify row_number() over (partition by name order by from_date desc, position, row_id) = 1
),

poured as (select distinct resin as item from records.pours where resin is not null),

placed as (
    select
        usual.item, usual.unit, coalesce(setting.category, usual.category) as said,
        poured.item is not null or said = 'resin' as weighed,
        case when said in (
                 'wood', 'resin', 'colourant', 'abrasive', 'finish', 'hardware', 'packaging'
             ) then said else 'consumable' end as category
    from usual
    left join setting on setting.name = usual.item
    left join poured on poured.item = usual.item
)

select
    placed.item,
    placed.category,
    case when placed.category = 'wood' then 'mm3'
         when setting.base_unit in ('mg', 'ul', 'mm3') then setting.base_unit
         when placed.weighed then 'mg'
         when setting.base_unit is not null then setting.base_unit
         when setting.kit_weight_mg is not null then 'mg'
         when setting.kit_ul is not null then 'ul'
         else coalesce(placed.unit, 'each') end as unit,
    coalesce(setting.density_ug_per_ul, case when placed.weighed then 1100 end) as density_ug_per_ul,
    setting.density_a_ug_per_ul, setting.density_b_ug_per_ul,
    -- parts are by volume: those by weight are divided by their part's density
    case when setting.parts_by = 'weight'
         then setting.parts_a * 1000
             / coalesce(setting.density_a_ug_per_ul, setting.density_ug_per_ul, 1100)
         else coalesce(setting.parts_a, 1) end as parts_a,
    case when setting.parts_by = 'weight'
         then setting.parts_b * 1000
             / coalesce(setting.density_b_ug_per_ul, setting.density_ug_per_ul, 1100)
         else coalesce(setting.parts_b, 1) end as parts_b,
    setting.kit_ul, setting.kit_weight_mg as kit_mg, setting.shelf_months,
    coalesce(
        setting.driver, case when placed.category in ('finish', 'abrasive') then 'area' else 'units' end
    ) as driver,
    setting.row_id
from placed
left join setting on setting.name = placed.item
