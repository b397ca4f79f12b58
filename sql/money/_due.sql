-- One row per sale row: what was taken, the tax on it, what the channel keeps, and what is due to us.
-- `followed`: its money comes with the payments of its order. Tax that the channel pays on is never
-- ours. Postage that the sale cost is beside it, for a channel may keep that too.
-- @key row_id
with sales as (
    select
        *, coalesce(quantity, 1) as units,
        coalesce(quantity, 1) * price_cents - coalesce(discount_cents, 0) as taken_cents
    from records.sales
),

taxed as (
    select sales.*, coalesce(channel.tax_by, 'us') as tax_by
    from sales
    asof left join settings.channel as channel
        on channel.name = sales.channel and channel.from_date <= sales.on_date
),

fees as (
    select
        row_id, operation = 'postage' as postage,
        case when from_place = 'fee' then cents else -cents end as cents
    from cost.movement where 'fee' in (from_place, to_place)
),

kept as (
    select
        row_id, sum(cents) filter (where not postage) as kept_cents,
        sum(cents) filter (where postage) as postage_cents
    from fees group by row_id
),

paid_orders as (select distinct order_no from records.payments where order_no is not null),

placed_before as (
    select orders.order_no from records.orders cross join settings.shop
    where orders.on_date < shop.start and shop.opening_deposits_cents > 0
)

select
    taxed.row_id, on_date, month_of(on_date) as month, channel, event, order_no, piece, product,
    units, taken_cents, taken_cents + coalesce(shipping_charged_cents, 0) as revenue_cents,
    case when tax_by = 'us' then coalesce(sales_tax_cents, 0) else 0 end as tax_cents,
    case when tax_by = 'us' then 0 else coalesce(sales_tax_cents, 0) end as channel_tax_cents,
    cast(coalesce(kept.kept_cents, 0) as bigint) as kept_cents,
    cast(coalesce(kept.postage_cents, 0) as bigint) as postage_cents,
    cast(revenue_cents + tax_cents - coalesce(kept.kept_cents, 0) as bigint) as due_cents,
    order_no in (from paid_orders) or order_no in (from placed_before) is true as followed
from taxed
left join kept on kept.row_id = taxed.row_id
