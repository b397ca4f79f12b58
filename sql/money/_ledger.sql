-- One row per entry in an account beside stock and result: cash, what others owe us, and what we owe.
-- Cents are positive where cash or a claim of ours grows, or a debt shrinks. `kind` says why. With no payment that tells,
-- money moves on the day of its record (assumed). Vouchers and deposits are owed until they are used.
with payments as (select * from records.payments),

shop as (select * from settings.shop),

kinds as (
    select
        count(*) filter (where kind = 'supplier') as suppliers, count(*) filter (where kind = 'supplier' and receipt is null) as suppliers_at_large,
        count(*) filter (where kind = 'pay') as pays
    from payments
),

opening as (
    select 'cash' as account, 'there at the start' as kind, shop.start as on_date, shop.row_id, shop.opening_cash_cents as cents, false as assumed from shop
    union all select 'tax', 'there at the start', start, row_id, -opening_tax_owed_cents, false from shop
    union all select 'deposits', 'there at the start', start, row_id, -opening_deposits_cents, false from shop
),

-- sales with the payouts, refunds and takings that settle them
sales as (
    select case when account = 'order' then 'order' else 'customers' end as account, 'sales' as kind, on_date, row_id, due_cents as cents, false as assumed, order_no from money._sale
    union all
    select 'tax', 'tax collected', on_date, row_id, -tax_cents, false, null from money._sale
    union all
    select 'cash', 'sales', on_date, row_id, due_cents, true, null from money._sale where account = 'assumed'
    union all
    select 'customers', 'sales', on_date, row_id, -due_cents, true, null from money._sale where account = 'assumed'
),

assumed_days as (select distinct on_date from money._sale where account = 'assumed'),

paid as (
    select
        payments.row_id, payments.on_date, payments.kind, payments.order_no,
        case when kind in ('refund', 'supplier', 'pay', 'drawing', 'tax') then -amount_cents when kind = 'voucher used' then 0 else amount_cents end as cash_cents,
        amount_cents, owners.name is not null as to_owner, assumed_days.on_date is not null as beside_cash
    from payments
    left join (select distinct lower(name) as name from settings.person_rate where role in ('owner', 'partner') and not paid) as owners
        on owners.name = lower(trim(payments.note))
    left join assumed_days on assumed_days.on_date = payments.on_date
),

payment_cash as (
    select 'cash' as account, kind, on_date, row_id, cash_cents as cents, false as assumed, cast(null as varchar) as order_no from paid where kind <> 'voucher used'
),

payment_other as (
    select
        case when order_no is not null and kind in ('deposit', 'balance', 'payout', 'refund') then 'order'
             when kind = 'deposit' then 'deposits'
             when kind in ('balance', 'payout', 'refund') then 'customers'
             when kind = 'supplier' then 'suppliers'
             when kind = 'pay' then case when to_owner then 'owner' else 'wages' end
             when kind in ('drawing', 'capital') then 'owner'
             when kind = 'loan' then 'loan'
             when kind = 'tax' then 'tax'
             when kind = 'claim' then 'other income'
             else 'vouchers' end as account,
        kind, on_date, row_id, -cash_cents as cents, false as assumed, order_no
    from paid where kind <> 'voucher used'
),

-- a voucher pays for an order, or for one of that day's sales, for which no cash came then
voucher_used as (
    select 'vouchers' as account, kind, on_date, row_id, amount_cents as cents, false as assumed, cast(null as varchar) as order_no from paid where kind = 'voucher used'
    union all
    select case when order_no is not null then 'order' when beside_cash then 'cash' else 'customers' end, kind, on_date, row_id, -amount_cents, order_no is null, order_no
    from paid where kind = 'voucher used'
),

order_other as (
    select 'order' as account, 'deposit kept' as kind, cancelled as on_date, row_id, kept_cents as cents, false as assumed, order_no from money._order where kept_cents <> 0
    union all select 'other income', 'deposit kept', cancelled, row_id, -kept_cents, false, null from money._order where kept_cents <> 0
    union all select 'order', 'deposit of before', first_on, sale_id, -drawn_cents, false, order_no from money._order where drawn_cents <> 0
    union all select 'deposits', 'deposit of before', first_on, sale_id, drawn_cents, false, null from money._order where drawn_cents <> 0
    union all select 'order', 'balance', last_on, sale_id, -assumed_cents, true, order_no from money._order where assumed_cents <> 0
    union all select 'cash', 'balance', last_on, sale_id, assumed_cents, true, null from money._order where assumed_cents <> 0
),

postage as (
    select 'cash' as account, 'postage' as kind, on_date, row_id, case when from_place = 'fee' then -cents else cents end as cents, true as assumed
    from cost.trace where (from_place = 'fee' or to_place = 'fee') and operation not in ('channel fee', 'payment fee')
),

-- what receipts come to, tax that will come back included
bills as (
    select on_date, row_id, case when from_place = 'receipt' then cents else -cents end as cents from cost.trace where from_place = 'receipt' or to_place = 'receipt'
),

input_tax as (
    select purchases.on_date, purchases.row_id, purchases.tax_cents as cents from records.purchases
    asof join settings.rule on rule.from_date <= purchases.on_date
    where rule.tax_reclaimable and purchases.tax_cents <> 0
),

to_pay as (
    select bills.*, purchases.receipt from (from bills union all from input_tax) as bills join records.purchases on purchases.row_id = bills.row_id
),

on_account as (
    select to_pay.*, -- a line of no receipt is paid by no payment that names one
        kinds.suppliers_at_large > 0
        or to_pay.receipt is not null and to_pay.receipt in (select receipt from payments where kind = 'supplier' and receipt is not null) as owed
    from to_pay cross join kinds
),

suppliers as (
    select 'suppliers' as account, 'supplier' as kind, on_date, row_id, -cents as cents, false as assumed from on_account where owed
    union all select 'cash', 'supplier', on_date, row_id, -cents, true from on_account where not owed
    union all select 'tax', 'tax on purchases', on_date, row_id, cents, false from input_tax
),

work_done as (
    select on_date, row_id, cents from cost.trace where from_place = 'labour' and origin <> 'own labour'
    union all select on_date, row_id, -cents from cost.trace where to_place = 'labour' and origin <> 'own labour'
),

wages as (
    select case when kinds.pays > 0 then 'wages' else 'cash' end as account, 'pay' as kind, on_date, row_id, -cents as cents, kinds.pays = 0 as assumed
    from work_done cross join kinds
),

-- a pool of a monthly amount is owed until its bills come; with no bill at all it is paid month by month
billed as (select distinct item from cost.trace where from_place = 'receipt' and to_place = 'setting' or from_place = 'setting' and to_place = 'receipt'),

amounts as (
    select on_date, row_id, item, layer, to_place = 'asset' as asset, case when from_place = 'setting' then cents else -cents end as cents
    from cost.trace
    where from_place = 'setting' and to_place in ('pool', 'asset', 'receipt') or to_place = 'setting' and from_place in ('pool', 'asset', 'receipt')
),

monthly as (
    select
        case when asset then 'cash' when amounts.item in (from billed) then 'bills' else 'cash' end as account,
        case when asset then 'equipment' else 'overhead' end as kind, on_date, amounts.row_id, -cents as cents,
        asset or amounts.item not in (from billed) as assumed
    from amounts cross join shop
    where not asset or on_date > shop.start
),

flat as (
    select
        sale.month, any_value(rule.row_id) as row_id, sum(sale.tax_cents) as tax_cents,
        cut(sum(sale.revenue_cents + sale.tax_cents) filter (where sale.channel_tax_cents = 0), any_value(rule.flat_rate_ppm), 1000000) as owed_cents
    from money._sale as sale
    -- a month goes by the rule that is in force when it ends
    asof join settings.rule on rule.from_date <= last_day(sale.month)
    where rule.tax_regime = 'flat rate' group by sale.month
),

flat_rate as (
    select 'tax' as account, 'flat rate' as kind, last_day(month) as on_date, row_id, tax_cents - coalesce(owed_cents, 0) as cents, false as assumed from flat
    union all select 'other income', 'flat rate', last_day(month), row_id, coalesce(owed_cents, 0) - tax_cents, false from flat
),

orders as (
    select * from sales union all select * from payment_other union all select * from voucher_used union all select * from order_other
),

-- an order that is paid ahead is a deposit held; one that is handed over and not yet paid is owed to us
order_days as (
    select
        *, sum(cents) over (partition by order_no order by on_date, kind = 'deposit kept', row_id, kind, account, cents rows unbounded preceding) as after_cents
    from orders where account = 'order'
),

split as (
    select 'customers' as account, kind, on_date, row_id, greatest(after_cents, 0) - greatest(after_cents - cents, 0) as cents, assumed from order_days
    union all
    select 'deposits', kind, on_date, row_id, least(after_cents, 0) - least(after_cents - cents, 0), assumed from order_days
),

entries as (
    select * from opening
    union all select account, kind, on_date, row_id, cents, assumed from orders where account <> 'order'
    union all select account, kind, on_date, row_id, cents, assumed from payment_cash
    union all select * from split
    union all select * from postage
    union all select * from suppliers
    union all select * from wages
    union all select * from monthly
    union all select * from flat_rate
)

select account, kind, on_date, month_of(on_date) as month, row_id, cast(cents as bigint) as cents, assumed
from entries where cents <> 0
