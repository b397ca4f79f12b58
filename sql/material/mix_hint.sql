-- One row per resin and purpose: what to mix for the next pour, for each square decimetre of top
-- (or decimetre cubed of body).
-- The mix is the need and the shop's usual loss; the safe mix was enough in nine of ten weighed
-- pours. Parts by volume and by weight are the product's ratio; its data sheet decides.
-- @key resin, purpose
with pours as (
    select
        need.resin, need.purpose, count(*) as pours,
        count(*) filter (where size.weighed) as weighed_pours,
        median(need.thickness_mm) as thickness_mm,
        median(need.need_g / nullif(need.top_dm2, 0)) as need_g_per_dm2,
        median(need.need_g * 1000000 / nullif(size.body_mm3, 0)) as need_g_per_dm3,
        max(need.on_date) as last_on,
        arg_max(need.thickness_basis, (need.on_date, need.pour)) as thickness_basis
    from material.pour_need as need
    join material._pour_size as size on size.pour = need.pour
    where need.resin is not null and need.purpose is not null
    group by need.resin, need.purpose
),

mixes as (
    select
        item, parts_a, parts_b,
        parts_a * coalesce(density_a_ug_per_ul, density_ug_per_ul) as weight_a,
        parts_b * coalesce(density_b_ug_per_ul, density_ug_per_ul) as weight_b
    from work.item
)

select
    pours.resin, pours.purpose, pours.pours, pours.weighed_pours, pours.last_on, pours.thickness_mm,
    pours.thickness_basis, pours.need_g_per_dm2, pours.need_g_per_dm3, loss.loss_share,
    loss.high_share as high_loss_share,
    pours.need_g_per_dm2 / nullif(1 - loss.loss_share, 0) as mix_g_per_dm2,
    pours.need_g_per_dm2 / nullif(1 - loss.high_share, 0) as safe_mix_g_per_dm2,
    pours.need_g_per_dm3 / nullif(1 - loss.loss_share, 0) as mix_g_per_dm3,
    mix.parts_a / (mix.parts_a + mix.parts_b) as part_a_volume_share,
    mix.weight_a / (mix.weight_a + mix.weight_b) as part_a_weight_share
from pours
left join mixes as mix on mix.item = pours.resin
left join material._pour_loss as own on own.resin = pours.resin and own.purpose = pours.purpose
left join material._pour_loss as of_purpose
    on of_purpose.resin is null and of_purpose.purpose = pours.purpose
left join material._pour_loss as of_all on of_all.resin is null and of_all.purpose is null
cross join lateral (
    select
        coalesce(own.loss_share, of_purpose.loss_share, of_all.loss_share) as loss_share,
        coalesce(own.high_share, of_purpose.high_share, of_all.high_share) as high_share
) as loss
