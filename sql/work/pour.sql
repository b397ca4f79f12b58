-- One row per pour, in milligrams: what was mixed and what became of it.
-- A pour that nobody weighed takes what is usual (estimated). What a pour's figures leave open is
-- `unexplained`, and so is what was poured on no piece; a pour that names no deposit is taken to
-- have deposited all that its rests leave (estimated).
-- @key pour
-- @check mixed_mg >= 0
with pours as (
    select pours.*, usual.resin_mg as usual_mg
    from work._pour_mix as pours
    left join work._pour_usual as usual on usual.pour = pours.pour
),

balanced as (
    select
        *,
        coalesce(usual_mg, part_a_mg + part_b_mg) as resin_mg,
        resin_mg + colourant_mg as mixed_mg,
        mixed_mg - coalesce(left_in_cup_mg, 0) - coalesce(spilled_mg, 0) as poured_mg
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
    pour, row_id, on_date, purpose, coat, resin, resin_assumed, lot, cast(pieces as bigint) as pieces,
    part_a_mg, part_b_mg, colourant, colourant_quantity, colourant_unit, colourant_mg, resin_mg,
    mixed_mg,
    cast(deposited_mg as bigint) as deposited_mg,
    left_in_cup_mg, spilled_mg,
    cast(least(trimmed_mg, deposited_mg) as bigint) as trimmed_mg,
    cast(deposited_mg - least(trimmed_mg, deposited_mg) as bigint) as good_mg,
    cast(
        mixed_mg - deposited_mg - coalesce(left_in_cup_mg, 0) - coalesce(spilled_mg, 0) as bigint
    ) as unexplained_mg,
    pieces_without_deposit > 0 or usual_mg is not null as estimated,
    usual_mg is not null as mix_estimated,
    case when part_a_mg > 0 and part_b_mg > 0 and b_share > 0
         then whole(1000000 * (part_a_mg / part_b_mg) / (a_share / b_share)) end as mix_ppm,
    stir_seconds, temperature_c, humidity_pct, cured_seconds
from settled
