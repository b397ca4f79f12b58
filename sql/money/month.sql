-- One row per month: what was sold, what it cost, what the rest of the month cost, what an hour paid, and the cash beside it.
-- Revenue counts on handover, without tax. `result_cents` counts own pay as a cost (for prices); `books_result_cents` does
-- not (for the year end). Pay per hour is the books result before owners' pay over all owners' hours, market and office too;
-- under four hours in the month, half a day, one sale or bill decides it, so it is not told.
-- A closed month stands as it was closed; what would change it now is `earlier_cents` of the first open month after it.
-- @key month
-- @check result_cents = revenue_cents + refund_cents + other_income_cents - cost_of_sales_cents - selling_cents - period_labour_cents - not_absorbed_cents - other_period_cents - loss_cents - write_down_cents + earlier_cents
-- @check cost_of_sales_cents = sold_wood_cents + sold_resin_cents + sold_supplies_cents + sold_labour_cents + sold_machine_cents + sold_overhead_cents + sold_spoilage_cents
-- @check cash_end_cents = cash_start_cents + cash_in_cents - cash_out_cents
with closed as (select distinct month from intake.closed),

lines as (
    select month, name as line, place, layer, own_labour, amount as cents from intake.closed where kind = 'line'
    union all
    select line.month, line.line, line.place, line.layer, line.own_labour, line.cents from money.line anti join closed on closed.month = line.month
),

-- hours that turn up late for a closed month count in the first open one, as their cents do
open as (select month from work.month anti join closed on closed.month = work.month.month),

late as (
    select coalesce(now.month, past.month) as closed_month, coalesce(now.figure, past.name) as figure, coalesce(now.amount, 0) - coalesce(past.amount, 0) as amount
    from (select figure.* from money.figure semi join closed on closed.month = figure.month) as now
    full join (from intake.closed where kind = 'figure') as past on past.month = now.month and past.name = now.figure
),

figures as (
    select month, name, amount from intake.closed where kind = 'figure'
    union all
    select figure.month, figure.figure, figure.amount from money.figure anti join closed on closed.month = figure.month
    union all
    select open.month, late.figure, late.amount from late asof join open on open.month > late.closed_month where late.amount <> 0
),

sums as (
    select
        month,
        sum(cents) filter (where line = 'revenue') as revenue_cents,
        sum(cents) filter (where line = 'refunds') as refund_cents,
        sum(cents) filter (where line = 'other income') as other_income_cents,
        -sum(cents) filter (where line = 'cost of sales' and layer in ('wood', 'offcut')) as sold_wood_cents,
        -sum(cents) filter (where line = 'cost of sales' and layer in ('resin', 'resin waste', 'colourant')) as sold_resin_cents,
        -sum(cents) filter (where line = 'cost of sales' and layer in ('finish', 'abrasive', 'consumable', 'hardware')) as sold_supplies_cents,
        -sum(cents) filter (where line = 'cost of sales' and layer = 'labour') as sold_labour_cents,
        -sum(cents) filter (where line = 'cost of sales' and layer = 'machine') as sold_machine_cents,
        -sum(cents) filter (where line = 'cost of sales' and layer = 'overhead') as sold_overhead_cents,
        -sum(cents) filter (where line = 'cost of sales' and layer = 'spoilage') as sold_spoilage_cents,
        -sum(cents) filter (where line = 'cost of sales') as cost_of_sales_cents,
        -sum(cents) filter (where line = 'selling') as selling_cents,
        -sum(cents) filter (where line = 'other hours') as period_labour_cents,
        -sum(cents) filter (where line = 'not absorbed') as not_absorbed_cents,
        -sum(cents) filter (where line = 'other costs') as other_period_cents,
        -sum(cents) filter (where line = 'losses') as loss_cents,
        -sum(cents) filter (where line = 'write-downs') as write_down_cents,
        -sum(cents) filter (where own_labour) as own_labour_cents,
        sum(cents) as all_cents
    from lines group by month
),

counted as (
    select
        month,
        sum(amount) filter (where name = 'pieces sold') as pieces_sold,
        sum(amount) filter (where name = 'bench seconds') as bench_seconds,
        sum(amount) filter (where name = 'shop seconds') as shop_seconds,
        sum(amount) filter (where name = 'selling seconds') as selling_seconds,
        sum(amount) filter (where name = 'rework seconds') as rework_seconds,
        sum(amount) filter (where name = 'owner seconds') as owner_seconds,
        sum(amount) filter (where name = 'owners paid') as owners_paid_cents
    from figures group by month
),

later as (
    select month, sum(cents) as cents, sum(cents) filter (where not own_labour) as books_cents from money.earlier where month is not null group by month
),

changed as (select closed_month as month, sum(cents) filter (where not own_labour) as books_cents from money.earlier group by closed_month),

own_use as (
    select month_of(on_date) as month, sum(case when to_place = 'own use' then cents else -cents end) as cents
    from cost.trace where to_place = 'own use' or from_place = 'own use' group by month_of(on_date)
),

taxed as (select month, sum(tax_cents) as tax_cents, sum(channel_tax_cents) as channel_tax_cents from money._sale group by month),

first as (select min(month) as month from work.month),

ledger as (
    select greatest(entries.month, first.month) as month, account, kind, cents, assumed from money._ledger as entries cross join first
    -- cash that moved before the records begin is in what was there
    where account <> 'cash' or entries.month >= first.month
),

accounts as (
    select
        month,
        sum(cents) filter (where account = 'cash' and kind <> 'there at the start' and cents > 0) as cash_in_cents,
        -sum(cents) filter (where account = 'cash' and kind <> 'there at the start' and cents < 0) as cash_out_cents,
        sum(abs(cents)) filter (where account = 'cash' and kind <> 'there at the start' and assumed) as cash_assumed_cents,
        sum(cents) filter (where account = 'cash' and kind = 'there at the start') as cash_there_cents,
        sum(cents) filter (where account = 'cash') as cash_cents,
        -sum(cents) filter (where account = 'deposits') as deposits_cents,
        -sum(cents) filter (where account = 'vouchers') as vouchers_cents,
        -sum(cents) filter (where account = 'tax') as tax_cents,
        sum(cents) filter (where account = 'customers') as customers_cents,
        -sum(cents) filter (where account in ('suppliers', 'wages', 'bills')) as owed_cents
    from ledger group by month
),

filled as (
    select
        month.month, month.whole, month.recorded, closed.month is not null as closed, sums.* exclude (month), counted.* exclude (month), own_use.cents as own_use_cents,
        taxed.tax_cents, taxed.channel_tax_cents, later.cents as earlier_cents, later.books_cents as earlier_books_cents,
        coalesce(changed.books_cents, 0) - coalesce(later.books_cents, 0) as closed_books_cents,
        accounts.cash_in_cents, accounts.cash_out_cents, accounts.cash_assumed_cents, accounts.cash_there_cents,
        sum(coalesce(accounts.cash_cents, 0)) over so_far as cash_end_cents,
        sum(coalesce(accounts.deposits_cents, 0)) over so_far as deposits_owed_cents,
        sum(coalesce(accounts.vouchers_cents, 0)) over so_far as vouchers_owed_cents,
        sum(coalesce(accounts.tax_cents, 0)) over so_far as tax_owed_cents,
        sum(coalesce(accounts.customers_cents, 0)) over so_far as customers_owe_cents,
        sum(coalesce(accounts.owed_cents, 0)) over so_far as bills_owed_cents
    from work.month
    left join closed on closed.month = month.month
    left join sums on sums.month = month.month
    left join counted on counted.month = month.month
    left join later on later.month = month.month
    left join changed on changed.month = month.month
    left join own_use on own_use.month = month.month
    left join taxed on taxed.month = month.month
    left join accounts on accounts.month = month.month
    window so_far as (order by month.month rows unbounded preceding)
),

zeroed as (
    select
        * replace (
            coalesce(revenue_cents, 0) as revenue_cents, coalesce(refund_cents, 0) as refund_cents, coalesce(cost_of_sales_cents, 0) as cost_of_sales_cents,
            coalesce(own_labour_cents, 0) as own_labour_cents, coalesce(cast(owner_seconds as bigint), 0) as owner_seconds, coalesce(owners_paid_cents, 0) as owners_paid_cents,
            coalesce(earlier_cents, 0) as earlier_cents, coalesce(earlier_books_cents, 0) as earlier_books_cents,
            coalesce(cash_in_cents, 0) as cash_in_cents, coalesce(cash_out_cents, 0) as cash_out_cents
        ),
        coalesce(all_cents, 0) + coalesce(earlier_cents, 0) as result_cents,
        coalesce(all_cents, 0) + coalesce(own_labour_cents, 0) + coalesce(earlier_books_cents, 0) as books_result_cents
    from filled
)

select
    month, whole, recorded, closed, revenue_cents::bigint as revenue_cents, refund_cents::bigint as refund_cents, coalesce(pieces_sold, 0)::bigint as pieces_sold,
    coalesce(tax_cents, 0)::bigint as tax_cents, coalesce(channel_tax_cents, 0)::bigint as channel_tax_cents,
    coalesce(sold_wood_cents, 0)::bigint as sold_wood_cents, coalesce(sold_resin_cents, 0)::bigint as sold_resin_cents,
    coalesce(sold_supplies_cents, 0)::bigint as sold_supplies_cents, coalesce(sold_labour_cents, 0)::bigint as sold_labour_cents,
    coalesce(sold_machine_cents, 0)::bigint as sold_machine_cents, coalesce(sold_overhead_cents, 0)::bigint as sold_overhead_cents,
    coalesce(sold_spoilage_cents, 0)::bigint as sold_spoilage_cents, cost_of_sales_cents::bigint as cost_of_sales_cents,
    (revenue_cents + refund_cents - cost_of_sales_cents)::bigint as gross_margin_cents,
    case when revenue_cents + refund_cents > 0 then (revenue_cents + refund_cents - cost_of_sales_cents) / (revenue_cents + refund_cents) end as margin_share,
    coalesce(selling_cents, 0)::bigint as selling_cents, coalesce(period_labour_cents, 0)::bigint as period_labour_cents,
    coalesce(not_absorbed_cents, 0)::bigint as not_absorbed_cents, coalesce(other_period_cents, 0)::bigint as other_period_cents,
    coalesce(loss_cents, 0)::bigint as loss_cents, coalesce(write_down_cents, 0)::bigint as write_down_cents,
    coalesce(other_income_cents, 0)::bigint as other_income_cents, earlier_cents::bigint as earlier_cents,
    coalesce(own_use_cents, 0)::bigint as own_use_cents,
    result_cents::bigint as result_cents, (books_result_cents - result_cents)::bigint as own_labour_cents, books_result_cents::bigint as books_result_cents,
    closed_books_cents::bigint as closed_books_cents,
    coalesce(bench_seconds, 0) / 3600 as bench_hours, coalesce(shop_seconds, 0) / 3600 as shop_hours, coalesce(selling_seconds, 0) / 3600 as selling_hours,
    coalesce(rework_seconds, 0) / 3600 as rework_hours, owner_seconds / 3600 as owner_hours, owners_paid_cents::bigint as owners_paid_cents,
    (books_result_cents + owners_paid_cents)::bigint as owners_result_cents,
    case when owner_seconds >= 4 * 3600 then cut(cast(books_result_cents + owners_paid_cents as bigint), 3600, owner_seconds) end as pay_per_hour_cents,
    cast(cash_end_cents - cash_in_cents + cash_out_cents as bigint) as cash_start_cents, cash_in_cents::bigint as cash_in_cents, cash_out_cents::bigint as cash_out_cents,
    cash_end_cents::bigint as cash_end_cents, coalesce(cash_assumed_cents, 0)::bigint as cash_assumed_cents,
    deposits_owed_cents::bigint as deposits_owed_cents, vouchers_owed_cents::bigint as vouchers_owed_cents, tax_owed_cents::bigint as tax_owed_cents,
    customers_owe_cents::bigint as customers_owe_cents, bills_owed_cents::bigint as bills_owed_cents
from zeroed
