-- One row per resin, month and span that ends with it (the month, twelve months, all so far): what
-- came in, where it went.
-- The resin `all resins` is the sum of them. Shares are of what was poured.
-- @key item, month, span
with resins as (
    select
        coalesce(item, 'all resins') as item, month,
        sum(columns('(.*_(?:g|cents))') order by item) as "\1"
    from (select * exclude (counted_g, counted_on) from material.resin_balance)
    group by grouping sets ((item, month), (month))
),

pours as (
    -- a pour that doesn't say its resin is in no balance, nor in the sum of them
    select
        coalesce(resin, 'all resins') as item, month, sum(resin_cents) as resin_cents,
        sum(waste_cents) as waste_cents, count(*) as pours
    from (select *, greatest(month_of(on_date), (select min(month) from material.resin_balance)) as month from material.pour where resin is not null)
    group by grouping sets ((resin, month), (month))
),

monthly as (
    select
        resins.*, coalesce(pours.resin_cents, 0) as resin_cents,
        coalesce(pours.waste_cents, 0) as waste_cents, coalesce(pours.pours, 0) as pours
    from resins left join pours on pours.item = resins.item and pours.month = resins.month
),

spans as (
    select 'month' as span, 1 as months
    union all select 'twelve months', 12 union all select 'all', 100000
),

numbered as (select *, row_number() over (partition by item order by month) as number from monthly),

parts as (
    select
        last.item, last.month, spans.span, part.* exclude (item, month, number),
        part.month as part_month
    from numbered as last
    cross join spans
    join numbered as part
        on part.item = last.item and part.number between last.number - spans.months + 1
        and last.number
),

summed as (
    select
        item, month, span, min(part_month) as from_month, sum(pours) as pours,
        -- what lies on the shelf is no sum of months
        arg_min(opening_g, part_month) as first_g, arg_max(on_hand_g, part_month) as last_g,
        arg_min(opening_cents, part_month) as first_cents,
        arg_max(on_hand_cents, part_month) as last_cents,
        sum(columns('(.*_(?:g|cents))') order by part_month) as "\1"
    from parts group by item, month, span
)

select
    item, month, span, from_month, cast(pours as bigint) as pours, first_g as opening_g, bought_g,
    opened_g, missing_g, found_g, poured_g, good_g, sound_g, in_repours_g, in_scrapped_g, trimmed_g,
    cup_g, spilled_g, pour_unexplained_g, other_g, shortage_g, expired_g, last_g as on_hand_g,
    poured_g - good_g as wasted_g, case when poured_g > 0 then good_g / poured_g end as good_share,
    case when poured_g > 0 then sound_g / poured_g end as sound_share,
    case when poured_g > 0 then (poured_g - good_g) / poured_g end as wasted_share,
    cast(resin_cents as bigint) as resin_cents, cast(waste_cents as bigint) as waste_cents,
    cast(first_cents as bigint) as opening_cents, cast(bought_cents as bigint) as bought_cents,
    cast(missing_cents as bigint) as missing_cents, cast(found_cents as bigint) as found_cents,
    cast(poured_cents as bigint) as poured_cents, cast(good_cents as bigint) as good_cents,
    cast(sound_cents as bigint) as sound_cents,
    cast(in_repours_cents as bigint) as in_repours_cents,
    cast(in_scrapped_cents as bigint) as in_scrapped_cents,
    cast(trimmed_cents as bigint) as trimmed_cents, cast(cup_cents as bigint) as cup_cents,
    cast(spilled_cents as bigint) as spilled_cents,
    cast(pour_unexplained_cents as bigint) as pour_unexplained_cents,
    cast(other_cents as bigint) as other_cents, cast(shortage_cents as bigint) as shortage_cents,
    cast(last_cents as bigint) as on_hand_cents
from summed
