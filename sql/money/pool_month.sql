-- One row per pool and month in which it held or moved anything: what was in it, came, went into pieces and sales, and is left.
-- A pool is overhead, a machine, a booth fee on its way to the event's sales, or spoilage on its way to good pieces.
-- @key pool, month
-- @check closing_cents = opening_cents + actual_cents - applied_cents - not_absorbed_cents
with moved as (
    select item as pool, on_date, from_place as place, cents, case when origin = 'own labour' then cents else 0 end as own_cents
    from cost.trace where to_place = 'pool'
    union all
    select item, on_date, to_place, -cents, case when origin = 'own labour' then -cents else 0 end
    from cost.trace where from_place = 'pool'
),

first as (select min(month) as month from work.month),

-- a scrapped piece's cost comes into the pool of spoilage from the piece
sums as (
    select
        pool, greatest(month_of(on_date), first.month) as month,
        sum(cents) filter (where place in ('receipt', 'setting', 'asset', 'labour') or pool = 'spoilage' and place = 'piece' and cents > 0) as actual_cents,
        -sum(cents) filter (where place = 'sold' or place = 'piece' and not (pool = 'spoilage' and cents > 0)) as applied_cents,
        -sum(cents) filter (where place in ('period', 'waste')) as not_absorbed_cents,
        sum(cents) as change_cents
    from moved cross join first
    group by pool, greatest(month_of(on_date), first.month)
),

running as (
    select
        sums.*, sum(change_cents) over pools as closing_cents,
        coalesce(lead(sums.month) over pools, last.month + interval 1 month) as next_month
    from sums cross join (select max(month) as month from work.month) as last
    window pools as (partition by pool order by sums.month)
),

-- months in between, in which a bill paid ahead only waits
waiting as (
    select pool, closing_cents, cast(unnest(generate_series(month + interval 1 month, next_month - interval 1 month, interval 1 month)) as date) as month
    from running where closing_cents <> 0 and next_month > month + interval 1 month
),

months as (
    select pool, month, closing_cents - change_cents as opening_cents, actual_cents, applied_cents, not_absorbed_cents, closing_cents from running
    union all
    select pool, month, closing_cents, 0, 0, 0, closing_cents from waiting
)

select
    pool, month, cast(opening_cents as bigint) as opening_cents, coalesce(actual_cents, 0)::bigint as actual_cents, coalesce(applied_cents, 0)::bigint as applied_cents,
    coalesce(not_absorbed_cents, 0)::bigint as not_absorbed_cents, cast(closing_cents as bigint) as closing_cents
from months
where month <= (select max(month) from work.month)
