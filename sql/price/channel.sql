-- One row per channel and day from which its fees are in force, with what its sales say of tax,
-- postage and booths.
-- Those are of the twelve months that end with the last sale. A channel for which shop.toml says no
-- fee has those that its own sales name. `booth_share_ppm` is what booths cost of each unit of money
-- taken there: a market without it looks too good.
-- @key channel, from_date
with sales as (
    select
        row_id, on_date, channel, channel_fee_cents, payment_fee_cents,
        coalesce(sales_tax_cents, 0) as tax_cents, shipping_charged_cents, shipping_paid_cents,
        coalesce(quantity, 1) * price_cents - coalesce(discount_cents, 0) as taken_cents
    from records.sales
    where channel is not null and coalesce(quantity, 1) > 0
        and on_date > (select max(on_date) from records.sales) - interval 12 months
),

booths as (
    select row_id, sum(cents) as cents from cost.movement
    where layer = 'selling' and operation = 'booth fee' and from_place = 'pool'
        and to_place = 'sold'
    group by row_id
),

seen as (
    select
        sales.channel, count(*) as sales, min(sales.on_date) as first_on,
        sum(sales.taken_cents) as taken_cents, sum(sales.tax_cents) as tax_cents,
        sum(booths.cents) as booth_cents, sum(sales.channel_fee_cents) as fee_cents,
        sum(sales.payment_fee_cents) as payment_cents,
        sum(
            sales.taken_cents + sales.tax_cents + coalesce(sales.shipping_charged_cents, 0)
        ) as paid_cents,
        quantile_disc(coalesce(sales.shipping_charged_cents, 0), 0.5) as shipping_charged_cents,
        quantile_disc(coalesce(sales.shipping_paid_cents, 0), 0.5) as shipping_paid_cents
    from sales
    left join booths on booths.row_id = sales.row_id
    group by sales.channel
    having sum(sales.taken_cents) > 0
),

told as (
    select
        name as channel, from_date, row_id, share_ppm, fixed_cents, payment_share_ppm,
        payment_fixed_cents, tax_by
    from settings.channel
    qualify row_number() over (partition by name, from_date order by position desc, row_id desc) = 1
),

shown as (
    select
        channel, first_on, cut(coalesce(fee_cents, 0), 1000000, taken_cents) as share_ppm,
        cut(coalesce(payment_cents, 0), 1000000, paid_cents) as payment_share_ppm
    from seen
),

fees as (
    select
        told.channel, told.from_date, told.row_id, told.tax_by,
        coalesce(told.share_ppm, shown.share_ppm, 0) as share_ppm,
        coalesce(told.fixed_cents, 0) as fixed_cents,
        coalesce(told.payment_share_ppm, shown.payment_share_ppm, 0) as payment_share_ppm,
        coalesce(told.payment_fixed_cents, 0) as payment_fixed_cents
    from told
    left join shown on shown.channel = told.channel
    union all by name
    select
        channel, first_on as from_date, 'us' as tax_by, share_ppm, 0 as fixed_cents,
        payment_share_ppm, 0 as payment_fixed_cents
    from shown where channel not in (select channel from told)
)

select
    fees.channel, fees.from_date, fees.row_id, fees.share_ppm, fees.fixed_cents,
    fees.payment_share_ppm, fees.payment_fixed_cents, fees.tax_by,
    coalesce(seen.sales, 0) as sales,
    case when seen.taken_cents > 0 then cut(seen.tax_cents, 1000000, seen.taken_cents)
         else 0 end as tax_ppm,
    case when seen.taken_cents > 0
         then cut(coalesce(seen.booth_cents, 0), 1000000, seen.taken_cents)
         else 0 end as booth_share_ppm,
    coalesce(seen.shipping_charged_cents, 0) as shipping_charged_cents,
    coalesce(seen.shipping_paid_cents, 0) as shipping_paid_cents
from fees
left join seen on seen.channel = fees.channel
