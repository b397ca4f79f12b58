-- One row per month and line of the way from the books result to the change of cash, in order.
-- Positive cents leave more cash than the result says. The last line, `cash`, is the change itself: all others add up to it.
-- `cash_assumed_cents` says how much of the change of cash is taken to have moved on its record's day, for want of a payment.
-- @key month, line
with lines as (
    select unnest(range(1, 22)) as number, unnest([
        'books result', 'closed months', 'write-downs', 'depreciation', 'equipment bought', 'materials', 'pieces', 'pools', 'no receipt', 'there at the start',
        'own use', 'suppliers', 'wages', 'bills', 'customers', 'deposits', 'vouchers', 'tax', 'owner', 'loan', 'cash'
    ]) as line
),

moved as (
    select month_of(on_date) as month, from_place, to_place, cents from cost.trace where origin <> 'own labour'
),

-- what costs did not take cash now, or took cash and are no cost yet
placed as (
    select month,
        case to_place when 'asset' then 'equipment bought' when 'stock' then 'materials' when 'piece' then 'pieces' when 'pool' then 'pools' when 'own use' then 'own use' end as line,
        -cents as cents
    from moved where to_place in ('asset', 'stock', 'piece', 'pool', 'own use')
    union all
    select month,
        case from_place when 'asset' then 'depreciation' when 'stock' then 'materials' when 'piece' then 'pieces' when 'pool' then 'pools' when 'own use' then 'own use' end,
        cents
    from moved where from_place in ('asset', 'stock', 'piece', 'pool', 'own use')
    union all
    select month, 'no receipt', case from_place when 'imputed' then cents else -cents end from moved where from_place = 'imputed' or to_place = 'imputed'
    union all
    select month_of(trace.on_date), 'there at the start', case when trace.from_place = 'setting' then trace.cents else -trace.cents end
    from cost.trace cross join settings.shop
    where (trace.from_place = 'setting' and trace.to_place in ('stock', 'piece') or trace.to_place = 'setting' and trace.from_place in ('stock', 'piece'))
        or trace.from_place = 'setting' and trace.to_place = 'asset' and trace.on_date <= shop.start
),

accounts as (
    select month, account as line, -sum(cents) as cents, 0 as cash_assumed_cents
    from money._ledger where account not in ('cash', 'other income') and kind <> 'there at the start'
    group by month, account
),

entries as (
    select month, 'books result' as line, books_result_cents as cents, 0 as cash_assumed_cents from money.month
    union all select month, 'closed months', closed_books_cents, 0 from money.month
    union all select month, 'write-downs', -sum(cents), 0 from money.line where line = 'write-downs' and not own_labour group by month
    union all select month, line, sum(cents), 0 from placed group by month, line
    union all select * from accounts
    union all
    select month, 'cash', sum(cents), sum(cents) filter (where assumed) from money.cash group by month
),

sums as (select month, line, sum(cents) as cents, sum(coalesce(cash_assumed_cents, 0)) as cash_assumed_cents from entries group by month, line)

select sums.month, cast(lines.number as bigint) as line_number, sums.line, cast(sums.cents as bigint) as cents, cast(sums.cash_assumed_cents as bigint) as cash_assumed_cents
from sums
join work.month on month.month = sums.month
left join lines on lines.line = sums.line
where sums.cents <> 0 or sums.line in ('books result', 'cash')
