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
        sum(columns([
            'quantity', 'poured', 'good', 'scrapped', 'repour', 'trimmed', 'cup', 'spilled',
            'unexplained', 'other', 'short', 'expired'
        ]))
    from material._draw where lot_id > 0 group by lot_id
),

lots as (
    select
        lot.*, coalesce(lot.expires_on, months_later(lot.bought_on, item.shelf_months)) as keeps_to,
        case lot.unit when 'mg' then 0.001 else item.density_ug_per_ul / 1000000 end as g_per_unit
    from cost.lot
    join work.item on item.item = lot.item
    where lot.category = 'resin' and item.category = 'resin' and lot.unit = item.unit
        and item.unit in ('mg', 'ul')
),

-- a lot that was never drawn on has no fates
filled as (
    select
        lots.*, opened_on, last_on,
        coalesce(columns(fates.* exclude (lot_id, opened_on, last_on)), 0)
    from lots
    left join fates on fates.lot_id = lots.lot_id
),

-- running cuts of the cents by grams
running as (
    select
        *, greatest(quantity, 1) as drawn,
        cut(used_cents, good, drawn) as to_good,
        cut(used_cents, good + trimmed, drawn) as to_trimmed,
        cut(used_cents, good + trimmed + cup, drawn) as to_cup,
        cut(used_cents, good + trimmed + cup + spilled, drawn) as to_spilled,
        cut(used_cents, good + trimmed + cup + spilled + unexplained, drawn) as to_unexplained,
        cut(used_cents, good + trimmed + cup + spilled + unexplained + other, drawn) as to_other
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
    on_hand * g_per_unit as on_hand_g, landed_cents, used_cents, on_hand_cents,
    to_good as good_cents,
    case when good > 0 then cut(to_good, repour, good) else 0 end as in_repours_cents,
    case when good > 0 then cut(to_good, scrapped, good) else 0 end as in_scrapped_cents,
    to_trimmed - to_good as trimmed_cents, to_cup - to_trimmed as cup_cents,
    to_spilled - to_cup as spilled_cents, to_unexplained - to_spilled as pour_unexplained_cents,
    to_other - to_unexplained as other_cents, used_cents - to_other as shortage_cents,
    case when poured > 0 then good / poured end as good_share
from running
