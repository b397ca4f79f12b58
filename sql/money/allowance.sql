-- One row per refund that goods coming back, a deposit or an overpayment do not explain: money given
-- back without goods is an allowance of its day.
-- Of an order, what its refunds come to beyond what came back and what was paid too much goes to
-- the latest of them. A refund that names no order is one where no return is its twin.
-- @key row_id
-- @check cents > 0
with refunds as (
    select row_id, on_date, order_no, event, amount_cents as cents
    from records.payments where kind = 'refund' and amount_cents > 0
),

returned as (select distinct payment_id from money.twin where kind = 'sale'),

at_large as (
    select row_id, on_date, order_no, event, cents
    from refunds where order_no is null and row_id not in (from returned)
),

paid as (
    select order_no, sum(amount_cents) as cents
    from records.payments where kind in ('deposit', 'balance', 'payout', 'voucher used')
    group by order_no
),

due as (
    select
        order_no, sum(greatest(due_cents, 0)) as cents, sum(greatest(-due_cents, 0)) as back_cents
    from money._due group by order_no
),

known as (
    select
        due.order_no, due.back_cents,
        greatest(0, coalesce(paid.cents, 0) - due.cents) as over_cents
    from due
    left join paid on paid.order_no = due.order_no
),

running as (
    select
        refunds.*, known.back_cents + known.over_cents as explained_cents,
        sum(refunds.cents) over (
            partition by refunds.order_no order by refunds.on_date, refunds.cents, refunds.row_id
            rows unbounded preceding
        ) as to_cents
    from refunds
    join known on known.order_no = refunds.order_no
    where known.order_no is not null
),

of_orders as (
    select
        row_id, on_date, order_no, event,
        greatest(0, to_cents - explained_cents) - greatest(0, to_cents - cents - explained_cents)
            as cents
    from running
)

select row_id, on_date, order_no, event, cast(cents as bigint) as cents
from (from at_large union all by name from of_orders) where cents > 0
