-- One row per pour: which resin it took. One that names none took that of the lot it names, or the
-- shop's usual one; else the only one that it can have taken (assumed). Where there were several it
-- is not known, and asked.
-- @key pour
with told as (
    select pour, min(resin) as resin, min(lot) as lot from records.pours group by pour
),

supplies as (
    select item, lot from records.purchases
    union all by name
    select item, lot from records.counts
),

of_lot as (
    select supplies.lot, min(supplies.item) as item
    from supplies
    join work.item on item.item = supplies.item
    where supplies.lot is not null and item.category = 'resin'
    group by supplies.lot
),

only_one as (
    select pour, min(item) as item from work.pour_could group by pour having count(*) = 1
)

select
    told.pour,
    coalesce(told.resin, of_lot.item, shop.usual_resin, only_one.item) as resin,
    told.resin is null and of_lot.item is null and shop.usual_resin is null as assumed
from told
left join of_lot on of_lot.lot = told.lot
left join only_one on only_one.pour = told.pour
left join settings.shop on true
