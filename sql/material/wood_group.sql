-- One row per group of wooden lots (by species, supplier, form, or all of them): how much of the wood bought ended in finished pieces.
-- Over lots from which something was cut. Half of the lots lie between the low and the high share.
-- @key factor, level
with lots as (
    select *, coalesce(supplier, 'not known') as seller from material.wood_yield where yield_share is not null
),

long as (
    select 'species' as factor, coalesce(species, 'not known') as level, * from lots
    union all select 'supplier', seller, * from lots
    union all select 'form', coalesce(form, 'not known'), * from lots
    union all select 'all', 'all wood', * from lots
)

select
    factor, level, count(*) as lots, cast(sum(pieces) as bigint) as pieces, sum(bought_dm3) as bought_dm3, sum(finished_dm3) as finished_dm3,
    sum(scrapped_dm3) as scrapped_dm3, sum(on_hand_dm3) as on_hand_dm3,
    sum(finished_dm3) / sum(bought_dm3) as yield_share, quantile_cont(yield_share, 0.25) as low_share, quantile_cont(yield_share, 0.75) as high_share,
    cast(sum(landed_cents) as bigint) as landed_cents,
    case when sum(finished_dm3) > 0 then cast(round(sum(landed_cents) / sum(finished_dm3)) as bigint) end as cents_per_finished_dm3
from long group by factor, level
