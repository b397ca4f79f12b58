-- One row per month: what was sold, what it cost, what the rest of the month cost, what an hour
-- paid, and the cash beside it.
-- Revenue counts on handover, without tax. `result_cents` counts own pay as a cost (for prices);
-- `books_result_cents` does not (for the year end). Pay per hour is the books result before owners'
-- pay over all owners' hours, market and office too; under four hours in the month, half a day, one
-- sale or bill decides it, so it is not told. A closed month stands as it was closed; what would
-- change it now is `earlier_cents` of the first open month after it.
-- @key month
-- @check result_cents = revenue_cents + refund_cents + other_income_cents - cost_of_sales_cents -
--     selling_cents - period_labour_cents - not_absorbed_cents - other_period_cents - loss_cents -
--     write_down_cents + earlier_cents
-- @check cost_of_sales_cents = sold_wood_cents + sold_resin_cents + sold_supplies_cents +
--     sold_labour_cents + sold_machine_cents + sold_overhead_cents + sold_spoilage_cents
-- @check cash_end_cents = cash_start_cents + cash_in_cents - cash_out_cents
with closed as (select distinct month from intake.closed),

lines as (
    select month, name as line, layer, own_labour, amount as cents
    from intake.closed where kind = 'line'
    union all by name
    select line.month, line.line, line.layer, line.own_labour, line.cents
    from money.month_line as line anti join closed on closed.month = line.month
),

-- hours that turn up late for a closed month count in the first open one, as their cents do
open as (select month from work.month anti join closed on closed.month = work.month.month),

late as (
    select
        coalesce(now.month, past.month) as closed_month, coalesce(now.figure, past.name) as figure,
        coalesce(now.amount, 0) - coalesce(past.amount, 0) as amount
    from (select figure.* from money.figure semi join closed on closed.month = figure.month) as now
    full join (from intake.closed where kind = 'figure') as past
        on past.month = now.month and past.name = now.figure
),

figures as (
    select month, name as figure, amount from intake.closed where kind = 'figure'
    union all by name
    select figure.* from money.figure anti join closed on closed.month = figure.month
    union all by name
    select open.month, late.figure, late.amount
    from late asof join open on open.month > late.closed_month
    where late.amount <> 0
),

sorted as (
    select
        lines.*, case when lines.line = 'cost of sales' then known.cost_group end as sold
    from lines
    left join settings.layer as known on known.layer = lines.layer
),

sums as (
    select
        month,
        sum(cents) filter (where line = 'revenue') as revenue_cents,
        sum(cents) filter (where line = 'refunds') as refund_cents,
        sum(cents) filter (where line = 'other income') as other_income_cents,
        -sum(cents) filter (where sold = 'wood') as sold_wood_cents,
        -sum(cents) filter (where sold = 'resin') as sold_resin_cents,
        -sum(cents) filter (where sold = 'supplies') as sold_supplies_cents,
        -sum(cents) filter (where sold = 'labour') as sold_labour_cents,
        -sum(cents) filter (where sold = 'machine') as sold_machine_cents,
        -sum(cents) filter (where sold = 'overhead') as sold_overhead_cents,
        -sum(cents) filter (where sold = 'spoilage') as sold_spoilage_cents,
        -sum(cents) filter (where line = 'cost of sales') as cost_of_sales_cents,
        -sum(cents) filter (where line = 'selling') as selling_cents,
        -sum(cents) filter (where line = 'other hours') as period_labour_cents,
        -sum(cents) filter (where line = 'not absorbed') as not_absorbed_cents,
        -sum(cents) filter (where line = 'other costs') as other_period_cents,
        -sum(cents) filter (where line = 'losses') as loss_cents,
        -sum(cents) filter (where line = 'write-downs') as write_down_cents,
        sum(cents) as all_cents,
        sum(cents) filter (where not own_labour) as all_books_cents
    from sorted group by month
),

counted as (
    select
        month,
        sum(amount) filter (where figure = 'pieces sold') as pieces_sold,
        sum(amount) filter (where figure = 'bench seconds') as bench_seconds,
        sum(amount) filter (where figure = 'shop seconds') as shop_seconds,
        sum(amount) filter (where figure = 'selling seconds') as selling_seconds,
        sum(amount) filter (where figure = 'rework seconds') as rework_seconds,
        sum(amount) filter (where figure = 'owner seconds') as owner_seconds,
        sum(amount) filter (where figure = 'owners paid') as owners_paid_cents
    from figures group by month
),

later as (
    select
        month, sum(cents) as earlier_cents,
        sum(cents) filter (where not own_labour) as earlier_books_cents
    from money.earlier where month is not null group by month
),

changed as (
    select closed_month as month, sum(cents) filter (where not own_labour) as changed_books_cents
    from money.earlier group by closed_month
),

own_use as (
    select
        month_of(on_date) as month,
        sum(case when to_place = 'own use' then cents else -cents end) as own_use_cents
    from cost.moved where 'own use' in (to_place, from_place) group by month_of(on_date)
),

taxed as (
    select month, sum(tax_cents) as tax_cents, sum(channel_tax_cents) as channel_tax_cents
    from money._sale group by month
),

first as (select min(month) as month from work.month),

ledger as (
    select
        greatest(entries.month, first.month) as month, account, cents, assumed,
        kind = 'voucher used' as by_voucher,
        account = 'cash' and kind <> 'there at the start' as moved
    from money._ledger as entries
    cross join first
    -- cash that moved before the records begin is in what was there
    where account <> 'cash' or entries.month >= first.month
),

accounts as (
    select
        month,
        -- what a voucher paid for came in no cash
        sum(cents) filter (where moved and (cents > 0 or by_voucher)) as cash_in_cents,
        -sum(cents) filter (where moved and cents < 0 and not by_voucher) as cash_out_cents,
        sum(abs(cents)) filter (where moved and assumed) as cash_assumed_cents,
        sum(cents) filter (where account = 'cash') as cash_cents,
        -sum(cents) filter (where account = 'deposits') as deposits_cents,
        -sum(cents) filter (where account = 'vouchers') as vouchers_cents,
        -sum(cents) filter (where account = 'tax') as tax_to_pay_cents,
        sum(cents) filter (where account = 'customers') as customers_cents,
        -sum(cents) filter (where account in ('suppliers', 'wages', 'bills')) as owed_cents
    from ledger group by month
),

joined as (
    select
        month.month, month.whole, month.recorded, closed.month is not null as closed,
        sums.* exclude (month), counted.* exclude (month), own_use.* exclude (month),
        taxed.* exclude (month), later.* exclude (month), changed.* exclude (month),
        accounts.* exclude (month)
    from work.month
    left join closed on closed.month = month.month
    left join sums on sums.month = month.month
    left join counted on counted.month = month.month
    left join later on later.month = month.month
    left join changed on changed.month = month.month
    left join own_use on own_use.month = month.month
    left join taxed on taxed.month = month.month
    left join accounts on accounts.month = month.month
),

filled as (
    select
        month, whole, recorded, closed,
        cast(coalesce(columns(* exclude (month, whole, recorded, closed)), 0) as bigint)
    from joined
),

running as (
    select
        *, revenue_cents + refund_cents as net_cents,
        all_cents + earlier_cents as result_cents,
        all_books_cents + earlier_books_cents as books_result_cents,
        cast(sum(cash_cents) over so_far as bigint) as cash_end_cents,
        cast(sum(deposits_cents) over so_far as bigint) as deposits_owed_cents,
        cast(sum(vouchers_cents) over so_far as bigint) as vouchers_owed_cents,
        cast(sum(tax_to_pay_cents) over so_far as bigint) as tax_owed_cents,
        cast(sum(customers_cents) over so_far as bigint) as customers_owe_cents,
        cast(sum(owed_cents) over so_far as bigint) as bills_owed_cents
    from filled
    window so_far as (order by month rows unbounded preceding)
)

select
    month, whole, recorded, closed, revenue_cents, refund_cents, pieces_sold, tax_cents,
    channel_tax_cents, sold_wood_cents, sold_resin_cents, sold_supplies_cents, sold_labour_cents,
    sold_machine_cents, sold_overhead_cents, sold_spoilage_cents, cost_of_sales_cents,
    net_cents - cost_of_sales_cents as gross_margin_cents,
    case when net_cents > 0 then (net_cents - cost_of_sales_cents) / net_cents end as margin_share,
    selling_cents, period_labour_cents, not_absorbed_cents, other_period_cents, loss_cents,
    write_down_cents, other_income_cents, earlier_cents, own_use_cents,
    result_cents, books_result_cents - result_cents as own_labour_cents, books_result_cents,
    changed_books_cents - earlier_books_cents as closed_books_cents,
    bench_seconds / 3600 as bench_hours, shop_seconds / 3600 as shop_hours,
    selling_seconds / 3600 as selling_hours, rework_seconds / 3600 as rework_hours,
    owner_seconds / 3600 as owner_hours, owners_paid_cents,
    books_result_cents + owners_paid_cents as owners_result_cents,
    for_an_hour(owners_result_cents, owner_seconds, 'a month') as pay_per_hour_cents,
    cash_end_cents - cash_in_cents + cash_out_cents as cash_start_cents, cash_in_cents,
    cash_out_cents, cash_end_cents, cash_assumed_cents, deposits_owed_cents, vouchers_owed_cents,
    tax_owed_cents, customers_owe_cents, bills_owed_cents
from running
