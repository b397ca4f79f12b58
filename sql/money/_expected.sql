-- One row per movement of cash that a record leads one to expect on its day, where no payment names
-- its order or receipt: a sale, a receipt's line, a month's amount of a pool, a thing of the
-- settings, postage. Cents are positive where money comes in. `name` is the channel, receipt or
-- pool.
with bills as (
    select on_date, row_id, case when from_place = 'receipt' then cents else -cents end as cents
    from cost.movement where 'receipt' in (from_place, to_place)
    union all by name
    select purchases.on_date, purchases.row_id, purchases.tax_cents as cents from records.purchases
    asof join settings.rule on rule.from_date <= purchases.on_date
    where rule.tax_reclaimable and purchases.tax_cents <> 0
),

named as (
    select distinct receipt from records.payments where kind = 'supplier' and receipt is not null
),

receipts as (
    select
        'receipt' as kind, purchases.on_date, bills.row_id,
        coalesce(purchases.receipt || '/' || coalesce(purchases.supplier, ''), 'row ' || bills.row_id)
            as name,
        purchases.supplier as words, -sum(bills.cents) as cents
    from bills
    join records.purchases on purchases.row_id = bills.row_id
    where purchases.receipt is null or purchases.receipt not in (from named)
    group by all
),

amounts as (
    select
        case when to_place = 'asset' then 'equipment' else 'pool' end as kind, movement.on_date,
        movement.row_id, movement.item as name, movement.item as words, -sum(movement.cents) as cents
    from cost.movement
    cross join settings.shop
    where from_place = 'setting' and to_place in ('pool', 'asset')
        and (
            to_place = 'pool' and coalesce(item not in (from money._billed_pool), true)
            or to_place = 'asset' and on_date > shop.start
        )
    group by all
),

refunded as (
    select distinct order_no from records.payments where kind = 'refund' and order_no is not null
),

sales as (
    select
        'sale' as kind, on_date, row_id, channel as name, channel as words, event,
        due_cents as cents, postage_cents
    from money._due
    -- what came back of an order, where its refund doesn't name it
    where not followed or due_cents < 0 and order_no not in (from refunded)
),

postage as (
    select 'postage' as kind, on_date, row_id, 'postage' as name, 'post' as words,
        -postage_cents as cents
    from money._due where postage_cents > 0
)

select
    kind, on_date, row_id, name, words, event, cast(cents as bigint) as cents,
    coalesce(postage_cents, 0) as postage_cents
from (
    from receipts
    union all by name from amounts
    union all by name from sales
    union all by name from postage
)
where cents <> 0
