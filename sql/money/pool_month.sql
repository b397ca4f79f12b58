-- One row per pool and month in which it held or moved anything: what was in it, came, went into
-- pieces and sales, and is left.
-- A pool is overhead, a machine, a booth fee on its way to the event's sales, or spoilage on its
-- way to good pieces.
-- @key pool, month
-- @check closing_cents = opening_cents + actual_cents - applied_cents - not_absorbed_cents
with span as (select min(month) as first_month, max(month) as last_month from work.month),

-- a scrapped piece's cost comes into the pool of spoilage from the piece
placed as (
    select
        item as pool, greatest(month_of(on_date), first_month) as month, cents,
        case when other_place = 'piece' and item = 'spoilage' and cents > 0 then 'actual'
             when other_place in ('receipt', 'setting', 'asset', 'labour') then 'actual'
             when other_place in ('piece', 'sold') then 'applied'
             when other_place in ('period', 'waste') then 'not absorbed' end as way
    from cost.moved_entry
    cross join span
    where place = 'pool'
),

sums as (
    select
        pool, month,
        sum(cents) filter (where way = 'actual') as actual_cents,
        -sum(cents) filter (where way = 'applied') as applied_cents,
        -sum(cents) filter (where way = 'not absorbed') as not_absorbed_cents,
        sum(cents) as change_cents
    from placed
    group by pool, month
),

filled as (
    select pool, month, cast(coalesce(columns(* exclude (pool, month)), 0) as bigint) from sums
),

running as (
    select
        filled.*, cast(sum(change_cents) over pools as bigint) as closing_cents,
        coalesce(lead(month) over pools, last_month + interval 1 month) as next_month
    from filled
    cross join span
    window pools as (partition by pool order by month)
),

-- months in between, in which a bill paid ahead only waits
waiting as (
    select
        pool, closing_cents,
        cast(unnest(generate_series(
            month + interval 1 month, next_month - interval 1 month, interval 1 month
        )) as date) as month
    from running where closing_cents <> 0 and next_month > month + interval 1 month
),

months as (
    select
        pool, month, closing_cents - change_cents as opening_cents, actual_cents, applied_cents,
        not_absorbed_cents,
        closing_cents
    from running
    union all by name
    select
        pool, month, closing_cents as opening_cents, 0 as actual_cents, 0 as applied_cents,
        0 as not_absorbed_cents,
        closing_cents
    from waiting
)

select * from months where month <= (select last_month from span)
