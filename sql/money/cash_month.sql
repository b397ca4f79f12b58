-- One row per month and line of the way from the books result to the change of cash, in order.
-- Positive cents leave more cash than the result says. The last line, `cash`, is the change itself:
-- all others add up to it. `cash_assumed_cents` says how much of the change of cash is taken to
-- have moved on its record's day, for want of a payment.
-- @key month, line
with lines as (
    select unnest(range(1, 22)) as number, unnest([
        'books result', 'closed months', 'write-downs', 'depreciation', 'equipment bought',
        'materials', 'pieces', 'pools', 'no receipt', 'there at the start', 'own use', 'suppliers',
        'wages', 'bills', 'customers', 'deposits', 'vouchers', 'tax', 'owner', 'loan', 'cash'
    ]) as line
),

moved as (select * from cost.moved where origin <> 'own labour'),

held as (
    select * from (values
        ('asset', 'equipment bought', 'depreciation'), ('stock', 'materials', 'materials'),
        ('piece', 'pieces', 'pieces'), ('pool', 'pools', 'pools'), ('own use', 'own use', 'own use')
    ) as t (place, line_in, line_out)
),

-- what costs did not take cash now, or took cash and are no cost yet
placed as (
    select month_of(moved.on_date) as month, held.line_in as line, -moved.cents as cents
    from moved
    join held on held.place = moved.to_place
    union all by name
    select month_of(moved.on_date) as month, held.line_out as line, moved.cents
    from moved
    join held on held.place = moved.from_place
    union all by name
    select
        month_of(on_date) as month, 'no receipt' as line,
        case from_place when 'imputed' then cents else -cents end as cents
    from moved where 'imputed' in (from_place, to_place)
    union all by name
    select
        month_of(moved.on_date) as month, 'there at the start' as line,
        case when moved.from_place = 'setting' then moved.cents else -moved.cents end as cents
    from cost.moved
    cross join settings.shop
    where moved.from_place = 'setting' and moved.to_place in ('stock', 'piece')
        or moved.to_place = 'setting' and moved.from_place in ('stock', 'piece')
        or moved.from_place = 'setting' and moved.to_place = 'asset' and moved.on_date <= shop.start
),

entries as (
    select month, 'books result' as line, books_result_cents as cents from money.month
    union all by name
    select month, 'closed months' as line, closed_books_cents as cents from money.month
    union all by name
    select month, line, -cents as cents
    from money.month_line where line = 'write-downs' and not own_labour
    union all by name
    from placed
    union all by name
    select month, account as line, -cents as cents
    from money._ledger
    where account not in ('cash', 'other income') and kind <> 'there at the start'
    union all by name
    select month, 'cash' as line, cents, case when assumed then cents end as cash_assumed_cents
    from money.cash
),

sums as (
    select
        month, line, sum(cents) as cents, coalesce(sum(cash_assumed_cents), 0) as cash_assumed_cents
    from entries group by month, line
)

select
    sums.month, cast(lines.number as bigint) as line_number, sums.line,
    cast(sums.cents as bigint) as cents,
    cast(sums.cash_assumed_cents as bigint) as cash_assumed_cents
from sums
join work.month on month.month = sums.month
left join lines on lines.line = sums.line
where sums.cents <> 0 or sums.line in ('books result', 'cash')
