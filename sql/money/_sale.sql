-- One row per sale row: what was taken, the tax on it, what the channel keeps, and who owes us the
-- rest.
-- `account` says how its money comes: with the payments of its order, with the payouts of its
-- channel or event, with the refunds paid out, or, where no payment tells, on the day itself
-- (assumed). Tax that the channel pays on is never ours.
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

kept as (
    select row_id, sum(case when from_place = 'fee' then cents else -cents end) as cents
    from cost.trace
    where 'fee' in (from_place, to_place) and operation in ('channel fee', 'payment fee')
    group by row_id
),

paid_orders as (select distinct order_no from records.payments where order_no is not null),

placed_before as (
    select orders.order_no from records.orders cross join settings.shop
    where orders.on_date < shop.start and shop.opening_deposits_cents > 0
),

channels as (select distinct channel as name from records.sales where channel is not null),

payouts as (
    select payments.event, channels.name as channel
    from records.payments
    left join channels on lower(channels.name) = lower(trim(payments.note))
    where payments.kind = 'payout' and payments.order_no is null
),

named as (select distinct channel from payouts where channel is not null),

held_events as (select distinct event from payouts where event is not null),

keeps_fee as (select distinct name from settings.channel where share_ppm > 0 or tax_by = 'channel'),

-- a payout that names neither: of the channels that keep a fee, else of whatever no other payment
-- tells of
plain as (select count(*) > 0 as some from payouts where channel is null and event is null),

refunds as (
    select count(*) > 0 as some from records.payments where kind = 'refund' and order_no is null
),

settled as (
    select
        taxed.*, taken_cents + coalesce(shipping_charged_cents, 0) as revenue_cents,
        case when tax_by = 'us' then coalesce(sales_tax_cents, 0) else 0 end as tax_cents,
        case when tax_by = 'us' then 0 else coalesce(sales_tax_cents, 0) end as channel_tax_cents,
        cast(coalesce(kept.cents, 0) as bigint) as kept_cents,
        case when order_no in (from paid_orders) or order_no in (from placed_before) then 'order'
             when units < 0 and refunds.some then 'refund'
             when event in (from held_events) or channel in (from named) then 'payout'
             when plain.some and event is null
                 and (channel in (from keeps_fee) or not exists (from keeps_fee)) then 'payout'
             else 'assumed' end as account
    from taxed
    cross join plain
    cross join refunds
    left join kept on kept.row_id = taxed.row_id
)

select
    row_id, on_date, month_of(on_date) as month, channel, event, order_no, piece, product, units,
    taken_cents, revenue_cents, tax_cents, channel_tax_cents, kept_cents,
    cast(revenue_cents + tax_cents - kept_cents as bigint) as due_cents, account
from settled
