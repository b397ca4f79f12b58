-- One row per amount that enters a pool: a month's amount, a receipt, a month's depreciation, shop
-- work.
-- `month` is the month that it is a cost of; a bill that covers several months enters whole and is
-- spread over them.
with pools as (select * from settings.pool),

pool_names as (select name, min(source) as source from pools group by name),

amounts as (
    select
        pools.name as pool, 'overhead' as kind, month.month,
        greatest(month.month, shop.start) as on_date,
        'setting' as from_place, pools.row_id, pools.row_id as paid_row_id,
        'overhead' as layer, 'overhead' as origin, pools.amount_cents as cents
    from work.month
    cross join settings.shop
    cross join pool_names
    asof join pools on pools.name = pool_names.name and pools.from_date <= month.last_on
    where pool_names.source = 'amount' and pools.amount_cents > 0
),

receipts as (
    select
        billed.pool, billed.kind, landed.on_date, landed.row_id, landed.cents,
        coalesce(landed.covers, 1) as covers
    from cost._landed as landed
    join cost._billed as billed on billed.row_id = landed.row_id
    where billed.source = 'receipts'
),

spread as (select receipts.*, unnest(range(1, covers + 1)) as part from receipts),

receipt_months as (
    select
        pool, kind, cast(month_of(on_date) + to_months(cast(part - 1 as integer)) as date) as month,
        on_date, 'receipt' as from_place, row_id, row_id as paid_row_id,
        kind as layer, kind as origin, share(cents, part - 1, part, covers) as cents
    from spread
),

depreciation as (
    select
        asset.machine as pool, 'machine' as kind, month.month,
        greatest(month.month, asset.on_date) as on_date,
        'asset' as from_place, asset.row_id, asset.row_id as paid_row_id,
        'machine' as layer, 'machine' as origin,
        share(asset.cents - asset.salvage_cents, age.months - 1, age.months, asset.months) as cents
    from cost._asset as asset
    cross join work.month
    cross join lateral (
        select datediff('month', month_of(asset.on_date), month.month) + 1 as months
    ) as age
    where age.months between 1 and asset.months and asset.machine is not null
),

-- what own pay is in it stays own pay
shop_work as (
    select
        labour.pool, 'overhead' as kind,
        greatest(month_of(labour.on_date), month_of(shop.start)) as month,
        labour.on_date, 'labour' as from_place, labour.row_id, labour.paid_row_id,
        'overhead' as layer, labour.origin, labour.cents
    from cost._labour as labour
    cross join settings.shop
    where labour.place = 'pool'
)

select * from amounts
union all by name
select * from receipt_months
union all by name
select * from depreciation
union all by name
select * from shop_work
