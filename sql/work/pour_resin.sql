-- One row per pour: which resin it took. One that names none took that of the lot it names, or the
-- shop's usual one; else the only one that there was by its day, receipts written up late included,
-- or in the whole shop (assumed). Where there were several it is not known, and asked.
-- @key pour
with told as (
    select pour, min(resin) as resin, min(lot) as lot, min(on_date) as on_date
    from records.pours group by pour
),

resins as (select item from work.item where category = 'resin'),

supplies as (
    select item, lot, on_date from records.purchases
    union all by name
    select item, lot, on_date from records.counts
    union all by name
    select resin as item, on_date from records.pours
),

first_seen as (
    select supplies.item, min(supplies.on_date) as on_date
    from supplies
    join resins on resins.item = supplies.item
    group by supplies.item
),

of_lot as (
    select supplies.lot, min(supplies.item) as item
    from supplies
    join resins on resins.item = supplies.item
    where supplies.lot is not null group by supplies.lot
),

there as (
    select
        told.pour,
        count(*) filter (
            where first_seen.on_date <= told.on_date + cast(late_receipt_days as integer)
        ) as by_then,
        min(first_seen.item) filter (
            where first_seen.on_date <= told.on_date + cast(late_receipt_days as integer)
        ) as item_by_then,
        count(*) as ever, min(first_seen.item) as item_ever
    from told
    cross join first_seen
    cross join settings.shop
    where told.resin is null
    group by told.pour
)

select
    told.pour,
    coalesce(
        told.resin, of_lot.item, shop.usual_resin,
        case when there.by_then = 1 then there.item_by_then
             when there.by_then = 0 and there.ever = 1 then there.item_ever end
    ) as resin,
    told.resin is null and of_lot.item is null and shop.usual_resin is null as assumed
from told
left join of_lot on of_lot.lot = told.lot
left join there on there.pour = told.pour
left join settings.shop on true
