-- One row per voucher that was used: it pays for its order, or for takings of the nearest day within
-- a week that no payment tells of, as far as they go. `cash_cents` is what of those came in no cash.
-- @key row_id
-- @check cash_cents between 0 and cents
with used as (
    select row_id, on_date, order_no, amount_cents as cents
    from records.payments where kind = 'voucher used'
),

days as (
    select on_date as cash_on, sum(due_cents) as taken_cents
    from money._sale where account = 'assumed' group by on_date having sum(due_cents) > 0
),

near as (
    select used.row_id, used.cents, days.cash_on, days.taken_cents
    from used
    join days on abs(datediff('day', days.cash_on, used.on_date)) <= 7
    where used.order_no is null
    qualify row_number() over (
        partition by used.row_id
        order by abs(datediff('day', days.cash_on, used.on_date)), days.cash_on
    ) = 1
),

running as (
    select
        *, sum(cents) over (
            partition by cash_on order by cents, row_id rows unbounded preceding
        ) as to_cents
    from near
)

select
    used.row_id, used.on_date, used.order_no, used.cents, running.cash_on,
    cast(coalesce(
        least(to_cents, taken_cents) - least(to_cents - used.cents, taken_cents), 0
    ) as bigint) as cash_cents
from used
left join running on running.row_id = used.row_id
