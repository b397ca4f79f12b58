-- One row per resin, month and span that ends with it (the month, twelve months, all so far): what
-- came in, where it went.
-- The resin `all resins` is the sum of them. Shares are of what was poured.
-- @key item, month, span
with resins as (
    select
        coalesce(item, 'all resins') as item, month,
        sum(columns(* exclude (item, month, counted_g, counted_on)) order by item)
    from material.resin_balance
    group by grouping sets ((item, month), (month))
),

pours as (
    -- a pour that doesn't say its resin is in no balance, nor in the sum of them
    select
        coalesce(resin, 'all resins') as item,
        greatest(month_of(on_date), (select min(month) from material.resin_balance)) as month,
        sum(resin_cents) as resin_cents, sum(waste_cents) as waste_cents, count(*) as pours
    from material.pour where resin is not null
    group by grouping sets ((resin, month), (month))
),

monthly as (
    select
        resins.*, coalesce(pours.resin_cents, 0) as resin_cents,
        coalesce(pours.waste_cents, 0) as waste_cents, coalesce(pours.pours, 0) as pours
    from resins
    left join pours on pours.item = resins.item and pours.month = resins.month
),

spans as (
    select unnest(['month', 'twelve months', 'all']) as span, unnest([1, 12, 100000]) as months
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
        arg_min(columns(['opening_g', 'opening_cents']), part_month),
        arg_max(columns(['on_hand_g', 'on_hand_cents']), part_month),
        sum(
            columns(lambda c: c like '%_g' and c not in ('opening_g', 'on_hand_g'))
            order by part_month
        ),
        cast(sum(
            columns(lambda c: c like '%_cents' and c not in ('opening_cents', 'on_hand_cents'))
        ) as bigint)
    from parts group by item, month, span
)

select
    item, month, span, from_month, cast(pours as bigint) as pours, opening_g, bought_g, opened_g,
    missing_g, found_g, poured_g, good_g, sound_g, in_repours_g, in_scrapped_g, trimmed_g, cup_g,
    spilled_g, pour_unexplained_g, other_g, shortage_g, expired_g, on_hand_g,
    poured_g - good_g as wasted_g, case when poured_g > 0 then good_g / poured_g end as good_share,
    case when poured_g > 0 then sound_g / poured_g end as sound_share,
    case when poured_g > 0 then (poured_g - good_g) / poured_g end as wasted_share,
    cast(poured_cents - good_cents as bigint) as not_in_pieces_cents,
    resin_cents, waste_cents, cast(opening_cents as bigint) as opening_cents, bought_cents,
    missing_cents, found_cents, poured_cents, good_cents, sound_cents, in_repours_cents,
    in_scrapped_cents, trimmed_cents, cup_cents, spilled_cents, pour_unexplained_cents, other_cents,
    shortage_cents, cast(on_hand_cents as bigint) as on_hand_cents
from summed
