-- One row per entry in an account beside stock and result: cash, what others owe us, and what we
-- owe.
-- Cents are positive where cash or a claim of ours grows, or a debt shrinks. `kind` says why. With
-- no payment that tells, money moves on the day of its record (assumed). Vouchers and deposits are
-- owed until they are used.
with payments as (select * from records.payments),

shop as (select * from settings.shop),

twins as (select * from money.twin),

kinds as (
    select
        count(*) filter (
            where kind = 'supplier' and receipt is null
                and row_id not in (select payment_id from twins)
        ) as suppliers_at_large,
        count(*) filter (where kind = 'pay') as pays
    from payments
),

opening as (
    select 'cash' as account, opening_cash_cents as cents, start as on_date, row_id from shop
    union all by name
    select 'tax' as account, -opening_tax_owed_cents as cents, start as on_date, row_id from shop
    union all by name
    select 'deposits' as account, -opening_deposits_cents as cents, start as on_date, row_id
    from shop
),

-- sales with the payouts, refunds and takings that settle them
sold as (select * from money._sale),

sales as (
    select
        case when account = 'order' then 'order' else 'customers' end as account, 'sales' as kind,
        on_date, row_id, due_cents as cents, false as assumed, order_no
    from sold
    union all by name
    select
        'tax' as account, 'tax collected' as kind, on_date, row_id, -tax_cents as cents,
        false as assumed
    from sold
    union all by name
    select 'cash' as account, 'sales' as kind, on_date, row_id, due_cents as cents, true as assumed
    from sold where account = 'assumed'
    union all by name
    select
        'customers' as account, 'sales' as kind, on_date, row_id, -due_cents as cents,
        true as assumed
    from sold where account = 'assumed'
),

owners as (
    select distinct lower(name) as name
    from settings.person_rate where role in ('owner', 'partner') and not paid
),

-- a refund that names no order, of what came back of one
of_order as (
    select twins.payment_id, any_value(sold.order_no) as order_no
    from twins
    join sold on sold.row_id = twins.row_id and sold.account = 'order'
    where twins.kind = 'sale' group by twins.payment_id
),

paid as (
    select
        payments.row_id, payments.on_date, payments.kind,
        coalesce(payments.order_no, of_order.order_no) as order_no, amount_cents,
        case when kind in ('refund', 'supplier', 'pay', 'drawing', 'tax') then -amount_cents
             else amount_cents end as cash_cents,
        owners.name is not null as to_owner
    from payments
    left join owners on owners.name = lower(trim(payments.note))
    left join of_order on of_order.payment_id = payments.row_id
),

-- a voucher that is used moves no cash
payment_cash as (
    select 'cash' as account, kind, on_date, row_id, cash_cents as cents, false as assumed
    from paid where kind <> 'voucher used'
),

of_settings as (
    select distinct payment_id, 'bills' as account
    from twins where kind in ('pool', 'equipment')
),

payment_other as (
    select
        case when order_no is not null and kind in ('deposit', 'balance', 'payout', 'refund')
             then 'order'
             when kind = 'deposit' then 'deposits'
             when kind in ('balance', 'payout', 'refund') then 'customers'
             when kind = 'supplier' then coalesce(of_settings.account, 'suppliers')
             when kind = 'pay' and to_owner then 'owner'
             when kind = 'pay' then 'wages'
             when kind in ('drawing', 'capital') then 'owner'
             when kind = 'loan' then 'loan'
             when kind = 'tax' then 'tax'
             when kind = 'claim' then 'other income'
             else 'vouchers' end as account,
        kind, on_date, paid.row_id, -cash_cents as cents, false as assumed, order_no
    from paid
    left join of_settings on of_settings.payment_id = paid.row_id
    where kind <> 'voucher used'
),

-- it pays for an order, or for takings for which no cash came then
voucher_used as (
    select
        'vouchers' as account, 'voucher used' as kind, on_date, row_id, cents, false as assumed
    from money._voucher
    union all by name
    select
        'cash' as account, 'voucher used' as kind, cash_on as on_date, row_id,
        -cash_cents as cents, true as assumed
    from money._voucher where cash_cents > 0
    union all by name
    select
        case when order_no is not null then 'order' else 'customers' end as account,
        'voucher used' as kind, on_date, row_id, cash_cents - cents as cents,
        order_no is null as assumed, order_no
    from money._voucher
),

followed as (select * from money._order),

order_other as (
    select
        'order' as account, 'deposit kept' as kind, cancelled as on_date, row_id,
        kept_cents as cents, false as assumed, order_no
    from followed where kept_cents <> 0
    union all by name
    select
        'other income' as account, 'deposit kept' as kind, cancelled as on_date, row_id,
        -kept_cents as cents, false as assumed
    from followed where kept_cents <> 0
    union all by name
    select
        'order' as account, 'deposit of before' as kind, first_on as on_date, sale_id as row_id,
        -drawn_cents as cents, false as assumed, order_no
    from followed where drawn_cents <> 0
    union all by name
    select
        'deposits' as account, 'deposit of before' as kind, first_on as on_date, sale_id as row_id,
        drawn_cents as cents, false as assumed
    from followed where drawn_cents <> 0
    union all by name
    select
        'order' as account, 'balance' as kind, last_on as on_date, sale_id as row_id,
        -assumed_cents as cents, true as assumed, order_no
    from followed where assumed_cents <> 0
    union all by name
    select
        'cash' as account, 'balance' as kind, last_on as on_date, sale_id as row_id,
        assumed_cents as cents, true as assumed
    from followed where assumed_cents <> 0
),

posted as (
    select twins.row_id, any_value(payments.kind) as kind
    from twins
    join payments on payments.row_id = twins.payment_id
    where twins.kind = 'postage' group by twins.row_id
),

-- a channel that sells the label keeps it from its payout; a carrier's bill is paid by its bank line
postage as (
    select
        case posted.kind when 'payout' then 'customers'
                         when 'supplier' then 'suppliers'
                         else 'cash' end as account,
        'postage' as kind, on_date, movement.row_id,
        case when from_place = 'fee' then -cents else cents end as cents,
        posted.kind is null as assumed
    from cost.movement
    left join posted on posted.row_id = movement.row_id
    where 'fee' in (from_place, to_place) and operation not in ('channel fee', 'payment fee')
),

-- what receipts come to, tax that will come back included
bills as (
    select on_date, row_id, case when from_place = 'receipt' then cents else -cents end as cents
    from cost.movement where 'receipt' in (from_place, to_place)
),

input_tax as (
    select purchases.on_date, purchases.row_id, purchases.tax_cents as cents from records.purchases
    asof join settings.rule on rule.from_date <= purchases.on_date
    where rule.tax_reclaimable and purchases.tax_cents <> 0
),

-- what was counted at the start was paid before, or is owed since before
in_count as (select row_id from work.in_count),

to_pay as (
    select bills.*, purchases.receipt
    from (from bills union all by name from input_tax) as bills
    join records.purchases on purchases.row_id = bills.row_id
),

settled as (select receipt from payments where kind = 'supplier' and receipt is not null),

paid_receipts as (select row_id from twins where kind = 'receipt'),

on_account as (
    select
        to_pay.*,
        -- a line of no receipt is paid by no payment that names one
        kinds.suppliers_at_large > 0 or to_pay.row_id in (from paid_receipts)
            or to_pay.receipt is not null and to_pay.receipt in (from settled) as owed
    from to_pay
    cross join kinds
),

suppliers as (
    select
        'suppliers' as account,
        case when row_id in (from in_count) then 'there at the start' else 'supplier' end as kind,
        on_date, row_id, -cents as cents, false as assumed
    from on_account where owed
    union all by name
    select 'cash' as account, 'supplier' as kind, on_date, row_id, -cents as cents, true as assumed
    from on_account where not owed and row_id not in (from in_count)
    union all by name
    select 'tax' as account, 'tax on purchases' as kind, on_date, row_id, cents, false as assumed
    from input_tax where row_id not in (from in_count)
),

work_done as (
    select on_date, row_id, case when from_place = 'labour' then cents else -cents end as cents
    from cost.movement
    where 'labour' in (from_place, to_place) and origin <> 'own labour'
),

wages as (
    select
        case when kinds.pays > 0 then 'wages' else 'cash' end as account, 'pay' as kind,
        on_date, row_id, -cents as cents, kinds.pays = 0 as assumed
    from work_done
    cross join kinds
),

-- a pool of a monthly amount is owed until its bills come; with no bill at all it is paid month by
-- month
amounts as (
    select
        on_date, row_id, item, to_place = 'asset' as asset,
        item in (from money._billed_pool) and to_place <> 'asset' as has_bills,
        exists(
            from twins
            where twins.kind in ('pool', 'equipment') and twins.row_id = movement.row_id
                and twins.on_date = movement.on_date
        ) as has_twin,
        case when from_place = 'setting' then cents else -cents end as cents
    from cost.movement
    where (
            from_place = 'setting' and to_place in ('pool', 'asset', 'receipt')
            or to_place = 'setting' and from_place in ('pool', 'asset', 'receipt')
        )
        and row_id not in (from in_count)
),

monthly as (
    select
        case when has_bills or has_twin then 'bills' else 'cash' end as account,
        case when asset then 'equipment' else 'overhead' end as kind,
        on_date, amounts.row_id, -cents as cents, not has_bills and not has_twin as assumed
    from amounts
    cross join shop
    where not asset or on_date > shop.start
),

flat as (
    select
        last_day(sale.month) as on_date, any_value(rule.row_id) as row_id,
        sum(sale.tax_cents) as tax_cents,
        coalesce(cut(
            sum(sale.revenue_cents + sale.tax_cents) filter (where sale.channel_tax_cents = 0),
            any_value(rule.flat_rate_ppm), 1000000
        ), 0) as owed_cents
    from sold as sale
    -- a month goes by the rule that is in force when it ends
    asof join settings.rule on rule.from_date <= last_day(sale.month)
    where rule.tax_regime = 'flat rate' group by sale.month
),

flat_rate as (
    select 'tax' as account, tax_cents - owed_cents as cents, on_date, row_id from flat
    union all by name
    select 'other income' as account, owed_cents - tax_cents as cents, on_date, row_id from flat
),

orders as (
    from sales
    union all by name from payment_other
    union all by name from voucher_used
    union all by name from order_other
),

-- an order that is paid ahead is a deposit held; one that is handed over and not yet paid is owed
-- to us
order_days as (
    select *, sum(cents) over so_far as after_cents
    from orders where account = 'order'
    window so_far as (
        partition by order_no
        order by on_date, kind = 'deposit kept', kind <> 'sales', kind, cents, assumed, row_id
        rows unbounded preceding
    )
),

split as (
    select
        'customers' as account, kind, on_date, row_id, assumed,
        greatest(after_cents, 0) - greatest(after_cents - cents, 0) as cents
    from order_days
    union all by name
    select
        'deposits' as account, kind, on_date, row_id, assumed,
        least(after_cents, 0) - least(after_cents - cents, 0) as cents
    from order_days
),

entries as (
    select *, 'there at the start' as kind, false as assumed from opening
    union all by name from orders where account <> 'order'
    union all by name from payment_cash
    union all by name from split
    union all by name from postage
    union all by name from suppliers
    union all by name from wages
    union all by name from monthly
    union all by name select *, 'flat rate' as kind, false as assumed from flat_rate
)

select
    account, kind, on_date, month_of(on_date) as month, row_id, cast(cents as bigint) as cents,
    assumed
from entries where cents <> 0
