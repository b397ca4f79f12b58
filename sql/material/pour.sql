-- One row per pour with its grams by fate, its cost, and whether its mix was on ratio.
-- @key pour
with cents as (
    select
        row_id,
        sum(cents) filter (where layer in ('resin', 'resin waste')) as resin_cents,
        sum(cents) filter (where layer = 'resin waste') as waste_cents
    from cost.movement
    where from_place = 'stock' and layer in ('resin', 'resin waste')
    group by row_id
)

select
    pour.pour, pour.row_id, pour.on_date, pour.purpose, pour.coat, pour.resin, pour.pieces,
    pour.mixed_mg / 1000 as mixed_g, pour.deposited_mg / 1000 as deposited_g,
    pour.left_in_cup_mg / 1000 as left_in_cup_g, pour.spilled_mg / 1000 as spilled_g,
    pour.trimmed_mg / 1000 as trimmed_g, pour.unexplained_mg / 1000 as unexplained_g,
    pour.good_mg / 1000 as good_g,
    case when pour.mixed_mg > 0 then pour.good_mg / pour.mixed_mg end as good_share,
    coalesce(cents.resin_cents, 0)::bigint as resin_cents,
    coalesce(cents.waste_cents, 0)::bigint as waste_cents,
    pour.mix_ppm / 1000000 as mix_ratio_share,
    case when pour.mix_ppm is not null
         then abs(pour.mix_ppm - 1000000) > rule.mix_tolerance_ppm end as off_ratio,
    pour.estimated, pour.mix_estimated
from work.pour
asof left join settings.rule on rule.from_date <= pour.on_date
left join cents on cents.row_id = pour.row_id
