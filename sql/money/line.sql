-- One row per record and line of its month's result: cents as they change it, so what is sold is positive and what it cost negative.
-- The sum over a month is its result with own pay; without the rows of `own_labour` it is what the books say. `place` is the
-- place in the trace that the cents reached. Lines of closed months stand as they are now, not as they were closed.
with down as (
    select
        month, last_day(month) as on_date, 'write-downs' as line, '' as place, '' as layer, price_basis as operation, row_id, row_id as paid_row_id, piece, product as item,
        -books_change_cents as books_cents, books_change_cents - change_cents as own_cents
    from money.write_down
),

written as (
    select month, on_date, line, place, layer, operation, row_id, paid_row_id, piece, item, false as own_labour, books_cents as cents from down where books_cents <> 0
    union all
    select month, on_date, line, place, layer, operation, row_id, paid_row_id, piece, item, true, own_cents from down where own_cents <> 0
),

income as (
    select month, on_date, 'other income' as line, '' as place, '' as layer, kind as operation, row_id, row_id as paid_row_id, null as piece, null as item, false as own_labour, -cents as cents
    from money._ledger where account = 'other income'
)

select * from money._plain_line
union all select * from written
union all select * from income
