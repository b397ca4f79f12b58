-- One row per pour that names no resin and no lot of one, and resin that it may have taken: each that
-- was there by its day, receipts written up late included; where none was, each one ever.
-- @key pour, item
with unnamed as (
    select pour, min(lot) as lot, min(on_date) as on_date
    from records.pours group by pour having min(resin) is null
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

found as (
    select
        unnamed.pour, first_seen.item,
        first_seen.on_date <= unnamed.on_date + cast(shop.late_receipt_days as integer) as by_then,
        bool_or(by_then) over (partition by unnamed.pour) as some_by_then
    from unnamed
    cross join first_seen
    cross join settings.shop
    where unnamed.lot is null or unnamed.lot not in (
            select supplies.lot from supplies
            join resins on resins.item = supplies.item
            where supplies.lot is not null
        )
)

select pour, item from found where by_then or not some_by_then
