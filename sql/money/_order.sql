-- One row per order whose money is followed: what fell due, what was paid, and what of the deposit
-- was kept.
-- An order placed before the records began draws what its payments don't cover from the deposits
-- held on that day, oldest handover first. Where nobody writes balances down, the rest counts as
-- paid on the day of the handover (assumed).
-- @key order_no
with due as (
    select
        order_no, min(on_date) filter (where units <> 0) as first_on,
        max(on_date) filter (where units <> 0) as last_on, sum(due_cents) as due_cents,
        max_by(row_id, (on_date, due_cents, row_id)) filter (where units <> 0) as sale_id
    from money._sale where account = 'order' group by order_no
),

paid as (
    select
        order_no,
        sum(case when kind = 'refund' then -amount_cents
                 when kind in ('deposit', 'balance', 'payout', 'voucher used') then amount_cents
                 else 0 end) as paid_cents,
        count(*) filter (where kind in ('balance', 'payout')) as balances
    from records.payments where order_no is not null group by order_no
),

orders as (
    select
        coalesce(due.order_no, paid.order_no) as order_no, orders.row_id, orders.cancelled,
        orders.on_date < shop.start as placed_before, due.first_on, due.last_on, due.sale_id,
        coalesce(due.due_cents, 0) as due_cents, coalesce(paid.paid_cents, 0) as paid_cents,
        coalesce(paid.balances, 0) as balances, shop.opening_deposits_cents as held_cents
    from due
    full join paid on paid.order_no = due.order_no
    left join records.orders on orders.order_no = coalesce(due.order_no, paid.order_no)
    cross join settings.shop
),

short as (
    select
        *, case when placed_before and first_on is not null then greatest(0, due_cents - paid_cents)
                else 0 end as short_cents
    from orders
),

running as (
    select
        *, sum(short_cents) over (order by first_on, order_no rows unbounded preceding) as to_cents
    from short
),

drawn as (
    select *, least(to_cents, held_cents) - least(to_cents - short_cents, held_cents) as drawn_cents
    from running
),

balanced as (select count(*) > 0 as some from records.payments where kind in ('balance', 'payout')),

settled as (
    select
        *,
        case when cancelled is not null then greatest(0, paid_cents - due_cents)
             else 0 end as kept_cents,
        case when not balanced.some and balances = 0 and last_on is not null
             then greatest(0, due_cents - paid_cents - drawn_cents) else 0 end as assumed_cents
    from drawn
    cross join balanced
)

select
    order_no, row_id, sale_id, cancelled, first_on, last_on,
    cast(due_cents as bigint) as due_cents, cast(paid_cents as bigint) as paid_cents,
    cast(drawn_cents as bigint) as drawn_cents, cast(kept_cents as bigint) as kept_cents,
    cast(assumed_cents as bigint) as assumed_cents
from settled
