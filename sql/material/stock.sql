-- One row per lot that is on the shelf: its age, what it ties up, how long it lasts at the usual
-- pace, how long it keeps.
-- Today is the last day of the last month on record. Cover is of all lots of its kind together. A
-- lot keeps to the day on its receipt, else by its item's shelf life from the day it was bought;
-- the product's data sheet decides. What a count found, and no receipt brought, is a lot of its own
-- from that day: nobody knows how old it is.
-- @key lot_id
with today as (select max(last_on) as on_date from work.month),

lots as (
    select
        shelf.*, sum(shelf.on_hand) over (partition by shelf.flow) as flow_on_hand,
        item.shelf_months
    from material._on_shelf as shelf
    left join work.item on item.item = shelf.item
),

kept as (
    select
        lots.*, today.on_date as today_on,
        case when lots.expires_on is not null then lots.expires_on
             when not lots.found then months_later(lots.bought_on, lots.shelf_months)
             end as keeps_to
    from lots
    cross join today
)

select
    lot_id, lot, item, category, kept.flow, species, supplier, form, bought_on,
    today_on - bought_on as age_days, cast(bought as bigint) as bought,
    cast(on_hand as bigint) as on_hand, unit, cast(on_hand_cents as bigint) as on_hand_cents,
    on_hand / bought as left_share, pace.usual_month,
    case when pace.months >= few_months() then flow_on_hand / pace.usual_month end as months_cover,
    keeps_to, keeps_to - today_on as days_left,
    case when keeps_to is null then null
         when keeps_to < today_on then 'past its date'
         when keeps_to < today_on + 61 then 'within two months'
         else 'keeps' end as shelf_life,
    used = 0 and not found as untouched, category = 'wood' and used = 0 as never_cut,
    kept.found as found_by_count
from kept
left join material._pace as pace on pace.flow = kept.flow
