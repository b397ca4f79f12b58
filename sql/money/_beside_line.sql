-- One row per record and line of its month's result that neither sales nor the trace give:
-- write-downs and other income.
with down as (
    select
        month, last_day(month) as on_date, 'write-downs' as line, price_basis as operation, row_id,
        piece, product as item, -books_change_cents as books_cents,
        books_change_cents - change_cents as own_cents
    from money.write_down
),

written as (
    select * exclude (books_cents, own_cents), false as own_labour, books_cents as cents
    from down where books_cents <> 0
    union all by name
    select * exclude (books_cents, own_cents), true as own_labour, own_cents as cents
    from down where own_cents <> 0
),

income as (
    select
        month, on_date, 'other income' as line, kind as operation, row_id, false as own_labour,
        -cents as cents
    from money._ledger where account = 'other income'
)

select * from written
union all by name
select * from income
