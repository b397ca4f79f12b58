-- One row per resin and stretch between two counts (the last one runs to the last record): what was
-- measured of its way, in grams.
-- A count is taken after that day's work. Weighed pours name what they deposited; of the others
-- only the mix is known, and what their pieces needed by size. Grams are summed in order of the
-- pours: added in another order, their last digit is another.
-- @key item, from_on
with resins as (
    select
        item, unit, density_ug_per_ul, kit_ul, kit_mg,
        case unit when 'mg' then 0.001 else density_ug_per_ul / 1000000 end as g_per_unit
    from work.item where category = 'resin' and unit in ('mg', 'ul')
),

weighed as (
    select
        resins.item, counts.on_date, counts.cause, resins.g_per_unit,
        case when counts.quantity = 0 then 0 else in_base(
            counts.quantity, quantity_unit, unit, density_ug_per_ul, kit_ul, kit_mg := kit_mg
        ) end as quantity
    from records.counts
    join resins on resins.item = counts.item
    where counts.worth_cents is null
),

counts as (
    select
        item, on_date, count(*) as readings, min(cause) as cause,
        sum(quantity) * any_value(g_per_unit) as counted_g
    from weighed
    -- a count in a unit that is no weight of it says nothing, but that none is left
    where quantity is not null
    group by item, on_date
),

-- what was bought or poured before the records begin is in them too
days as (
    select item, bought_on as on_date from cost.lot
    union all select item, on_date from counts
    union all select resin, on_date from work.pour where mixed_mg > 0
    union all select item, on_date from material._draw
),

begun as (
    select resins.item, least(shop.start, min(days.on_date)) as on_date
    from resins
    cross join settings.shop
    left join days on days.item = resins.item
    group by resins.item, shop.start
),

ends as (
    select item, on_date as to_on, readings, cause, counted_g from counts
    union all by name
    -- the day after the last record, so that no count falls on it
    select item, cast((select max(last_on) from work.month) + 1 as date) as to_on, 0 as readings
    from resins
),

stretches as (
    select
        ends.item, coalesce(lag(to_on) over way, begun.on_date - 1) as from_on, to_on, cause,
        readings, counted_g, lag(readings) over way as opening_readings,
        lag(counted_g) over way as opening_g
    from ends
    join begun on begun.item = ends.item
    window way as (partition by ends.item order by to_on)
),

bought as (
    select
        stretches.item, stretches.from_on, count(*) filter (where not opening) as bought_readings,
        count(*) filter (where opening) as start_readings,
        coalesce(sum(lot.bought) filter (where not opening), 0) * g_per_unit as bought_g,
        coalesce(sum(lot.bought) filter (where opening), 0) * g_per_unit as start_g
    from stretches
    join cost.lot
        on lot.item = stretches.item and lot.bought_on > stretches.from_on
        and lot.bought_on <= stretches.to_on
    join work.lot as work_lot on work_lot.lot_id = lot.lot_id
    join resins on resins.item = stretches.item
    group by stretches.item, stretches.from_on, resins.g_per_unit
),

other as (
    select
        stretches.item, stretches.from_on, count(*) as other_readings,
        sum(draw.quantity) * any_value(resins.g_per_unit) as other_g
    from stretches
    join material._draw as draw
        on draw.item = stretches.item and draw.fate = 'other' and draw.on_date > stretches.from_on
        and draw.on_date <= stretches.to_on
    join resins on resins.item = stretches.item
    group by stretches.item, stretches.from_on
),

pours as (
    select
        pour.pour, pour.resin as item, pour.on_date,
        pour.pieces > 0 and not pour.estimated as weighed, pour.resin_mg / 1000 as resin_g,
        pour.colourant_mg / 1000 as colourant_g, pour.deposited_mg / 1000 as deposited_g,
        pour.trimmed_mg / 1000 as trimmed_g, coalesce(pour.left_in_cup_mg, 0) / 1000 as cup_g,
        coalesce(pour.spilled_mg, 0) / 1000 as spilled_g,
        need.need_g
    from work.pour
    join material.pour_need as need on need.pour = pour.pour
    where pour.mixed_mg > 0 and pour.mix_estimated is distinct from true
),

mixed as (
    select
        stretches.item, stretches.from_on, count(*) filter (where weighed) as weighed_pours,
        count(*) filter (where not weighed) as other_pours,
        count(*) filter (where weighed and colourant_g > 0) as weighed_coloured,
        count(*) filter (where not weighed and colourant_g > 0) as other_coloured,
        coalesce(sum(resin_g order by pour) filter (where weighed), 0) as weighed_resin_g,
        coalesce(sum(resin_g order by pour) filter (where not weighed), 0) as other_resin_g,
        coalesce(sum(colourant_g order by pour) filter (where weighed), 0) as weighed_colourant_g,
        coalesce(sum(colourant_g order by pour) filter (where not weighed), 0) as other_colourant_g,
        coalesce(sum(deposited_g order by pour) filter (where weighed), 0) as deposited_g,
        coalesce(sum(trimmed_g order by pour) filter (where weighed), 0) as trimmed_g,
        coalesce(sum(cup_g order by pour) filter (where weighed), 0) as cup_g,
        coalesce(sum(spilled_g order by pour) filter (where weighed), 0) as spilled_g,
        count(*) filter (where not weighed and need_g is null) as unsized_pours,
        coalesce(sum(need_g order by pour) filter (where not weighed), 0) as other_need_g
    from stretches
    join pours
        on pours.item = stretches.item and pours.on_date > stretches.from_on
        and pours.on_date <= stretches.to_on
    group by stretches.item, stretches.from_on
)

select
    stretches.item, stretches.from_on, stretches.to_on, stretches.readings > 0 as counted,
    stretches.cause, stretches.readings as closing_readings, stretches.counted_g as closing_g,
    coalesce(stretches.opening_readings, bought.start_readings, 0) as opening_readings,
    coalesce(stretches.opening_g, bought.start_g, 0) as opening_g,
    coalesce(bought.bought_readings, 0) as bought_readings,
    coalesce(bought.bought_g, 0) as bought_g, coalesce(other.other_readings, 0) as other_readings,
    coalesce(other.other_g, 0) as other_g,
    mixed.* exclude (item, from_on)
from stretches
left join bought on bought.item = stretches.item and bought.from_on = stretches.from_on
left join other on other.item = stretches.item and other.from_on = stretches.from_on
left join mixed on mixed.item = stretches.item and mixed.from_on = stretches.from_on
