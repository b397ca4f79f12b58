-- One row per lot that is on the shelf: its age, what it ties up, how long it lasts at the usual pace, how long it keeps.
-- Today is the last day of the last month on record. Cover is of all lots of its kind together. A lot keeps to the day on its
-- receipt, else by its item's shelf life from the day it was bought; the product's data sheet decides.
-- @key lot_id
with today as (select max(last_on) as on_date from work.month),

lots as (
    select lot.*, work_lot.flow, sum(lot.on_hand) over (partition by work_lot.flow) as flow_on_hand, item.shelf_months
    from cost.lot
    join work.lot as work_lot on work_lot.lot_id = lot.lot_id
    left join work.item on item.item = lot.item
    -- of a slab that went back whole a cubic millimetre is left, so that its lot can be divided by
    where lot.on_hand > 0 and (lot.bought > 1 or lot.landed_cents > 0)
),

kept as (
    select lots.*, today.on_date as today_on, coalesce(lots.expires_on, cast(lots.bought_on + to_months(cast(lots.shelf_months as integer)) as date)) as keeps_to
    from lots cross join today
)

select
    lot_id, lot, item, category, kept.flow, species, supplier, form, bought_on, today_on - bought_on as age_days,
    bought, on_hand, unit, on_hand_cents, on_hand / bought as left_share, pace.usual_month, flow_on_hand / pace.usual_month as months_cover,
    keeps_to, keeps_to - today_on as days_left,
    case when keeps_to is null then null when keeps_to < today_on then 'past its date' when keeps_to < today_on + 61 then 'within two months' else 'keeps' end as shelf_life,
    used = 0 as untouched, category = 'wood' and used = 0 as never_cut
from kept
left join material._pace as pace on pace.flow = kept.flow
