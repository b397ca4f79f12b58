-- One row per pour, in milligrams: what was mixed and what became of it.
-- Parts in volume become weight by the part's own density, rests by the density of the mix. What a
-- pour's figures leave open is `unexplained`, and so is what was poured on no piece; a pour that
-- names no deposit is taken to have deposited all that its rests leave (estimated).
-- @key pour
-- @check mixed_mg >= 0
with rows as (
    select
        pours.*, item.density_ug_per_ul as density, item.parts_a, item.parts_b, item.kit_ul,
        coalesce(item.density_a_ug_per_ul, item.density_ug_per_ul) as density_a,
        coalesce(item.density_b_ug_per_ul, item.density_ug_per_ul) as density_b
    from records.pours
    left join work.item on item.item = pours.resin
),

weighed as (
    select
        pour, row_id, on_date, purpose, coat, resin, lot, stir_seconds, temperature_c, humidity_pct,
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
        min(coat) as coat, min(resin) as resin, min(lot) as lot,
        min(stir_seconds) as stir_seconds, min(temperature_c) as temperature_c,
        min(humidity_pct) as humidity_pct, min(cured_seconds) as cured_seconds,
        min(colourant) as colourant, min(colourant_quantity) as colourant_quantity,
        min(colourant_quantity_unit) as colourant_unit,
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
),

balanced as (
    select
        *,
        part_a_mg + part_b_mg as resin_mg,
        part_a_mg + part_b_mg + colourant_mg as mixed_mg,
        part_a_mg + part_b_mg + colourant_mg - coalesce(left_in_cup_mg, 0)
            - coalesce(spilled_mg, 0) as poured_mg
    from pours
),

settled as (
    select
        *,
        -- without a piece it is waste, whatever it was poured on
        case when pieces = 0 then 0
             when pieces_without_deposit > 0
             then greatest(poured_mg, coalesce(named_deposit_mg, 0), 0)
             else named_deposit_mg end as deposited_mg
    from balanced
)

select
    pour, row_id, on_date, purpose, coat, resin, lot, cast(pieces as bigint) as pieces,
    part_a_mg, part_b_mg, colourant, colourant_quantity, colourant_unit, colourant_mg, resin_mg,
    mixed_mg,
    cast(deposited_mg as bigint) as deposited_mg,
    left_in_cup_mg, spilled_mg,
    cast(least(trimmed_mg, deposited_mg) as bigint) as trimmed_mg,
    cast(deposited_mg - least(trimmed_mg, deposited_mg) as bigint) as good_mg,
    cast(
        mixed_mg - deposited_mg - coalesce(left_in_cup_mg, 0) - coalesce(spilled_mg, 0) as bigint
    ) as unexplained_mg,
    pieces_without_deposit > 0 as estimated,
    case when part_a_mg > 0 and part_b_mg > 0 and b_share > 0
         then whole(1000000 * (part_a_mg / part_b_mg) / (a_share / b_share)) end as mix_ppm,
    stir_seconds, temperature_c, humidity_pct, cured_seconds
from settled
