-- One row per pour: what its pieces should have taken by their size, beside what was mixed.
-- Need = top x thickness x share of the top (a casting without a thickness goes through the body).
-- Thickness and share are the shop's own setting for the purpose, else the middle of its weighed
-- pours of that product (five or more), else of that purpose, else what is common. Over = all that
-- was mixed beyond the need; the suggested mix adds the usual loss.
-- @key pour
with setting as (
    select name as purpose, thickness_mm, share_ppm / 1000000 as share from settings.purpose
    qualify row_number() over (partition by name order by from_date desc, position desc, row_id desc) = 1
),

common as (
    select replace(figure, ' thickness', '') as purpose, value as thickness_mm
    from material.figure where figure like '% thickness'
),

found as (
    select
        size.*, setting.share as set_share, setting.thickness_mm as set_mm,
        coalesce(own.pours, every.pours) as fit_pours,
        coalesce(own.thickness_mm, every.thickness_mm) as fit_mm,
        coalesce(own.body_share, every.body_share) as fit_share, common.thickness_mm as common_mm,
        coalesce(loss.loss_share, loss_of_purpose.loss_share, loss_of_all.loss_share) as loss_share
    from material._pour_size as size
    left join setting on setting.purpose = size.purpose
    left join common on common.purpose = size.purpose
    left join material._pour_fit as own on own.purpose = size.purpose and own.product = size.product
    left join material._pour_fit as every on every.purpose = size.purpose and every.product is null
    left join material._pour_loss as loss on loss.resin = size.resin and loss.purpose = size.purpose
    left join material._pour_loss as loss_of_purpose
        on loss_of_purpose.resin is null and loss_of_purpose.purpose = size.purpose
    left join material._pour_loss as loss_of_all
        on loss_of_all.resin is null and loss_of_all.purpose is null
),

sized as (
    select
        *,
        case when set_mm is not null or set_share < 1 then 'set'
             when fit_pours is not null then 'own pours'
             when common_mm is not null then 'common figure' end as thickness_basis,
        case when set_mm is not null then top_mm2 * set_mm * set_share
             when purpose = 'casting' and set_share < 1 then body_mm3 * set_share
             when purpose = 'casting' then body_mm3 * fit_share
             else top_mm2 * coalesce(fit_mm, common_mm) * coalesce(set_share, 1) end as need_mm3
    from found
),

needed as (
    select
        *, need_mm3 * density / 1000000 as need_g,
        -- what nobody weighed was over or under by nothing that one could know
        case when mix_estimated then null else mixed_mg / 1000 end as mixed_g
    from sized
),

mixes as (
    select needed.*, need_g / nullif(1 - loss_share, 0) as suggested_g, pour.resin_cents
    from needed
    join material.pour on pour.pour = needed.pour
)

select
    pour, row_id, on_date, purpose, coat, resin, product, pieces,
    top_mm2 / 10000 as top_dm2, size_estimated, need_mm3 / nullif(top_mm2, 0) as thickness_mm,
    thickness_basis,
    case when need_g is null then 'not known'
         when need_g < 50 then 'under 50 g'
         when need_g < 250 then '50 to 250 g'
         else '250 g and more' end as need_size,
    need_g, mixed_g, suggested_g, loss_share,
    mixed_g - need_g as over_g, mixed_g - suggested_g as over_suggested_g, resin_cents,
    -- money goes by grams of the mix, and none was mixed beyond what there was
    case when mixed_g > 0 and need_g is not null
         then whole(resin_cents * least(mixed_g - need_g, mixed_g) / mixed_g) end as over_cents,
    case when mixed_g > 0
         then whole(resin_cents * (mixed_g - suggested_g) / mixed_g) end as over_suggested_cents
from mixes
