-- One row per month that ends with a balance of a bank statement: what the statement says, and what
-- the books take cash to be.
-- A statement's rows of a day are in no order: the balance at its end is the one that no other row of
-- the day begins with. A day of which that is not one balance (two accounts, a gap, as much in as
-- out) proves nothing. The last month is compared on the last day that the statement tells of.
-- @key month
with stated as (
    select
        on_date, balance_cents,
        case when kind in ('refund', 'supplier', 'pay', 'drawing', 'tax') then -amount_cents
             when kind = 'voucher used' then 0
             else amount_cents end as cash_cents
    from records.payments where balance_cents is not null
),

ends as (
    select on_date, balance_cents as cents, 1 as number from stated
    union all by name
    select on_date, balance_cents - cash_cents as cents, -1 as number from stated
),

closings as (
    select on_date, cents from ends group by on_date, cents having sum(number) > 0
),

days as (
    select on_date, any_value(cents) as cents from closings group by on_date having count(*) = 1
),

months as (
    select
        month_of(on_date) as month, arg_max(cents, on_date) as statement_cents,
        max(on_date) as told_on
    from days group by month_of(on_date)
),

ended as (
    select
        *, case when month = max(month) over () then told_on else last_day(month) end as proved_on
    from months
),

cash as (select on_date, cents from money._ledger where account = 'cash'),

compared as (
    select
        ended.month, ended.proved_on, ended.statement_cents,
        coalesce(sum(cash.cents), 0) as books_cash_cents
    from ended
    left join cash on cash.on_date <= ended.proved_on
    group by all
)

select
    month, proved_on, statement_cents, cast(books_cash_cents as bigint) as books_cash_cents,
    cast(books_cash_cents - statement_cents as bigint) as differs_cents
from compared
