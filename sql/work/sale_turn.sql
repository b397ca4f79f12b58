-- One row per sale row, with its number among the sales of its day: by order, channel, event, piece,
-- product, units and price.
-- @key row_id
select
    row_id, on_date,
    row_number() over (
        partition by on_date
        order by
            order_no, channel, event, piece, product, lot, quantity, price_cents, discount_cents,
            shipping_charged_cents, sales_tax_cents, channel_fee_cents, payment_fee_cents,
            shipping_paid_cents, returned_to, row_id
    ) as day_turn
from records.sales
