-- One row per pour, in milligrams: what its rows say was mixed and what became of it.
-- Parts in volume become weight by the part's own density, rests by the density of the mix.
-- @key pour
with rows as (
    select
        pours.* exclude (resin), took.resin, took.assumed as resin_assumed,
        item.density_ug_per_ul as density, item.parts_a, item.parts_b, item.kit_ul,
        coalesce(item.density_a_ug_per_ul, item.density_ug_per_ul) as density_a,
        coalesce(item.density_b_ug_per_ul, item.density_ug_per_ul) as density_b
    from records.pours
    left join work.pour_resin as took on took.pour = pours.pour
    left join work.item on item.item = took.resin
),

weighed as (
    select
        pour, row_id, on_date, purpose, coat, resin, resin_assumed, lot, stir_seconds, temperature_c, humidity_pct,
        cured_seconds, piece, colourant, colourant_quantity, colourant_quantity_unit,
        parts_a, parts_b, density_a, density_b,
        in_base(part_a, part_a_unit, 'mg', density_a, kit_ul) as part_a_mg,
        in_base(part_b, part_b_unit, 'mg', density_b, kit_ul) as part_b_mg,
        in_base(left_in_cup, left_in_cup_unit, 'mg', density, kit_ul) as left_in_cup_mg,
        in_base(spilled, spilled_unit, 'mg', density, kit_ul) as spilled_mg,
        in_base(deposited, deposited_unit, 'mg', density, kit_ul) as deposited_mg,
        in_base(trimmed, trimmed_unit, 'mg', density, kit_ul) as trimmed_mg,
        in_base(colourant_quantity, colourant_quantity_unit, 'mg', 1000, null) as colourant_mg
    from rows
),

pours as (
    select
        pour, min(row_id) as row_id, min(on_date) as on_date, min(purpose) as purpose,
        min(coat) as coat, min(resin) as resin, bool_or(resin_assumed) as resin_assumed, min(lot) as lot,
        min(stir_seconds) as stir_seconds, min(temperature_c) as temperature_c,
        min(humidity_pct) as humidity_pct, min(cured_seconds) as cured_seconds,
        min(colourant) as colourant, min(colourant_quantity) as colourant_quantity,
        min(colourant_quantity_unit) as colourant_unit,
        min(part_a_mg) is null and min(part_b_mg) is null as unweighed,
        coalesce(min(part_a_mg), 0) as part_a_mg, coalesce(min(part_b_mg), 0) as part_b_mg,
        min(parts_a * density_a) as a_share, min(parts_b * density_b) as b_share,
        coalesce(min(colourant_mg), 0) as colourant_mg,
        min(left_in_cup_mg) as left_in_cup_mg, min(spilled_mg) as spilled_mg,
        sum(deposited_mg) as named_deposit_mg, coalesce(sum(trimmed_mg), 0) as trimmed_mg,
        count(distinct piece) as pieces,
        -- a piece may stand on several rows of a pour, of which one names its deposit
        pieces - count(distinct piece)
            filter (where deposited_mg is not null) as pieces_without_deposit
    from weighed group by pour
)

select * from pours
