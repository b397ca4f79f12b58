-- One row per selling cost of a sale: channel and payment fees, postage, and its share of the
-- event's booth fee. A channel's rates fill only empty cells (estimated). A booth fee is shared by
-- price over its event's sales.
with sales as (
    select
        sales.*, sale_turn.day_turn,
        coalesce(quantity, 1) as units,
        units * price_cents - coalesce(discount_cents, 0) as taken_cents,
        taken_cents + coalesce(shipping_charged_cents, 0)
            + coalesce(sales_tax_cents, 0) as paid_cents
    from records.sales
    join work.sale_turn on sale_turn.row_id = sales.row_id
),

rated as (
    select
        sales.*, channel.row_id as rate_id, channel.share_ppm, channel.fixed_cents,
        channel.payment_share_ppm, channel.payment_fixed_cents
    from sales
    asof left join settings.channel as channel
        on channel.name = sales.channel and channel.from_date <= sales.on_date
),

channel_fee as (
    select
        row_id, on_date, 'fee' as from_place, 'channel fee' as operation,
        channel_fee_cents is null as estimated,
        coalesce(
            channel_fee_cents,
            case when units > 0 then cut(taken_cents, share_ppm, 1000000) + fixed_cents end, 0
        ) as cents,
        case when channel_fee_cents is null then rate_id else row_id end as paid_row_id
    from rated
),

payment_fee as (
    select
        row_id, on_date, 'fee' as from_place, 'payment fee' as operation,
        payment_fee_cents is null as estimated,
        coalesce(
            payment_fee_cents,
            case when units > 0
                 then cut(paid_cents, payment_share_ppm, 1000000) + payment_fixed_cents end,
            0
        ) as cents,
        case when payment_fee_cents is null then rate_id else row_id end as paid_row_id
    from rated
),

postage as (
    select
        row_id, on_date, 'fee' as from_place, 'postage' as operation, false as estimated,
        shipping_paid_cents as cents, row_id as paid_row_id
    from sales where shipping_paid_cents <> 0
),

weighed as (
    select row_id, on_date, day_turn, event, greatest(taken_cents, 0) as weight
    from sales where event is not null and units > 0
),

balanced as (
    select
        *,
        case when sum(weight) over (partition by event) = 0 then 1 else weight end as share_weight
    from weighed
),

running as (
    select
        *,
        sum(share_weight) over (partition by event order by on_date, day_turn) as to_weight,
        sum(share_weight) over (partition by event) as all_weight
    from balanced
),

booth as (
    select
        running.row_id, greatest(running.on_date, fee.on_date) as on_date, 'pool' as from_place,
        'booth fee' as operation, false as estimated,
        share(fee.cents, to_weight - share_weight, to_weight, all_weight) as cents,
        fee.row_id as paid_row_id
    from running
    join cost._event_fee as fee on fee.event = running.event
),

costs as (
    select * from channel_fee where cents <> 0
    union all by name select * from payment_fee where cents <> 0
    union all by name select * from postage
    union all by name select * from booth
),

first_piece as (select row_id, min(piece) as piece from work.sale_piece group by row_id)

select
    costs.on_date, costs.row_id, costs.paid_row_id, costs.from_place, costs.operation,
    first_piece.piece,
    sales.event, cast(costs.cents as bigint) as cents, costs.estimated
from costs
join sales on sales.row_id = costs.row_id
left join first_piece on first_piece.row_id = costs.row_id
