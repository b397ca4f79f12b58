-- One row per refund that goods coming back, a deposit or an overpayment do not explain: money given
-- back without goods is an allowance of its day.
-- Of an order, what its refunds come to beyond what came back and what was paid too much goes to
-- the latest of them. A refund that names no order is one where no return is its twin.
-- What a buyer gets back has the tax in it that the buyer paid: as much of it as of the sales of its
-- order, else of its event, else of all by that day; a flat rate is a share of takings, and no tax
-- of a sale.
-- @key row_id
-- @check cents > 0 and tax_cents between 0 and cents
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
),

allowances as (
    select * from at_large
    union all by name
    select * from of_orders
),

sold as (
    select on_date, order_no, event, tax_cents, revenue_cents + tax_cents as paid_cents
    from money._due where units > 0
),

by_order as (
    select order_no, sum(tax_cents) as tax_cents, sum(paid_cents) as paid_cents
    from sold where order_no is not null group by order_no
),

by_event as (
    select event, sum(tax_cents) as tax_cents, sum(paid_cents) as paid_cents
    from sold where event is not null group by event
),

by_day as (
    select
        on_date, sum(sum(tax_cents)) over so_far as tax_cents,
        sum(sum(paid_cents)) over so_far as paid_cents
    from sold group by on_date
    window so_far as (order by on_date rows unbounded preceding)
),

taxed as (
    select
        allowances.*,
        coalesce(by_order.tax_cents, by_event.tax_cents, by_day.tax_cents) as of_tax,
        coalesce(by_order.paid_cents, by_event.paid_cents, by_day.paid_cents) as of_paid,
        rule.tax_regime in ('sales tax', 'vat') as has_tax
    from allowances
    left join by_order on by_order.order_no = allowances.order_no
    left join by_event on by_event.event = allowances.event
    asof left join by_day on by_day.on_date <= allowances.on_date
    asof left join settings.rule on rule.from_date <= allowances.on_date
)

select
    row_id, on_date, order_no, event, cast(cents as bigint) as cents,
    cast(case
        when has_tax and of_tax between 0 and of_paid and of_paid > 0
        then cut(cents, of_tax, of_paid) else 0 end as bigint) as tax_cents
from taxed where cents > 0
