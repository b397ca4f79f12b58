-- One row per booth fee: a selling receipt of an event, or its fee in the settings where no receipt
-- holds it.
-- @key row_id
with receipts as (
    select row_id, on_date, event, cents, 'receipt' as from_place
    from cost._landed where category = 'selling' and event is not null
),

fees as (
    select
        events.row_id, coalesce(events.day, shop.start) as on_date,
        upper(replace(events.name, ' ', '')) as event,
        events.fee_cents as cents, 'setting' as from_place
    from settings.event as events
    cross join settings.shop
    where events.fee_cents > 0
        and upper(replace(events.name, ' ', '')) not in (select event from receipts)
)

select * from receipts
union all by name
select * from fees
