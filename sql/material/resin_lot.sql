-- One row per lot of resin: when it was opened, what became of it, in grams and cents, and what is
-- left.
-- Cents of what was drawn go over its fates by grams. Bought = good + trimmed + cup + spilled +
-- unexplained + other + short + on hand; good = sound + in re-pours + in scrapped pieces.
-- @key lot_id
-- @check abs(bought_g - good_g - trimmed_g - cup_g - spilled_g - pour_unexplained_g - other_g -
--     shortage_g - on_hand_g) < 0.0005
-- @check good_cents + trimmed_cents + cup_cents + spilled_cents + pour_unexplained_cents +
--     other_cents + shortage_cents = used_cents
with fates as (
    select
        lot_id, min(on_date) as opened_on, max(on_date) as last_on, count(distinct pour) as pours,
        sum(quantity) as used, sum(poured) as poured, sum(good) as good, sum(scrapped) as scrapped,
        sum(repour) as repour, sum(trimmed) as trimmed, sum(cup) as cup, sum(spilled) as spilled,
        sum(unexplained) as unexplained, sum(other) as other, sum(short) as short,
        sum(expired) as expired
    from material._draw where lot_id > 0 group by lot_id
),

lots as (
    select
        lot.*, item.shelf_months,
        coalesce(lot.expires_on, cast(lot.bought_on + to_months(cast(item.shelf_months as integer)) as date)) as keeps_to,
        case lot.unit when 'mg' then 0.001 else item.density_ug_per_ul / 1000000 end as g_per_unit
    from cost.lot
    join work.item on item.item = lot.item
    where lot.category = 'resin' and item.category = 'resin' and lot.unit = item.unit
        and item.unit in ('mg', 'ul')
),

filled as (
    select
        lots.*, fates.opened_on, fates.last_on, coalesce(fates.pours, 0) as pours,
        coalesce(fates.used, 0) as drawn, coalesce(fates.poured, 0) as poured,
        coalesce(fates.good, 0) as good, coalesce(fates.scrapped, 0) as scrapped,
        coalesce(fates.repour, 0) as repour, coalesce(fates.trimmed, 0) as trimmed,
        coalesce(fates.cup, 0) as cup, coalesce(fates.spilled, 0) as spilled,
        coalesce(fates.unexplained, 0) as unexplained, coalesce(fates.other, 0) as other,
        coalesce(fates.short, 0) as short, coalesce(fates.expired, 0) as expired
    from lots
    left join fates on fates.lot_id = lots.lot_id
),

-- running cuts of the cents by grams; a lot that was never drawn on has none
running as (
    select
        *, greatest(drawn, 1) as all_drawn,
        cut(used_cents, good, all_drawn) as c1, cut(used_cents, good + trimmed, all_drawn) as c2,
        cut(used_cents, good + trimmed + cup, all_drawn) as c3,
        cut(used_cents, good + trimmed + cup + spilled, all_drawn) as c4,
        cut(used_cents, good + trimmed + cup + spilled + unexplained, all_drawn) as c5,
        cut(used_cents, good + trimmed + cup + spilled + unexplained + other, all_drawn) as c6
    from filled
)

select
    lot_id, lot, item, supplier, bought_on, opened_on, last_on, keeps_to, pours,
    case when opened_on is null then 'unopened'
         when on_hand > 0 then 'opened'
         else 'used up' end as state,
    bought * g_per_unit as bought_g, poured * g_per_unit as poured_g, good * g_per_unit as good_g,
    (good - scrapped - repour) * g_per_unit as sound_g, repour * g_per_unit as in_repours_g,
    scrapped * g_per_unit as in_scrapped_g, trimmed * g_per_unit as trimmed_g,
    cup * g_per_unit as cup_g, spilled * g_per_unit as spilled_g,
    unexplained * g_per_unit as pour_unexplained_g, other * g_per_unit as other_g,
    short * g_per_unit as shortage_g, expired * g_per_unit as expired_g,
    on_hand * g_per_unit as on_hand_g, landed_cents, used_cents, on_hand_cents, c1 as good_cents,
    case when good > 0 then cut(c1, repour, good) else 0 end as in_repours_cents,
    case when good > 0 then cut(c1, scrapped, good) else 0 end as in_scrapped_cents,
    c2 - c1 as trimmed_cents, c3 - c2 as cup_cents, c4 - c3 as spilled_cents,
    c5 - c4 as pour_unexplained_cents, c6 - c5 as other_cents, used_cents - c6 as shortage_cents,
    case when poured > 0 then good / poured end as good_share
from running
