-- One row per resin, month and span that ends with it (the month, twelve months, all so far): what came in, where it went.
-- The resin `all resins` is the sum of them. Shares are of what was poured.
-- @key item, month, span
with resins as (
    select
        coalesce(item, 'all resins') as item, month, sum(opening_g) as opening_g, sum(bought_g) as bought_g, sum(missing_g) as missing_g,
        sum(poured_g) as poured_g, sum(good_g) as good_g, sum(trimmed_g) as trimmed_g, sum(cup_g) as cup_g, sum(spilled_g) as spilled_g,
        sum(pour_unexplained_g) as pour_unexplained_g, sum(other_g) as other_g, sum(found_g) as found_g, sum(shortage_g) as shortage_g, sum(on_hand_g) as on_hand_g
    from material.resin_balance group by grouping sets ((item, month), (month))
),

poured_cents as (
    select coalesce(resin, 'all resins') as item, month_of(on_date) as month, sum(resin_cents) as resin_cents, sum(waste_cents) as waste_cents, count(*) as pours
    from material.pour group by grouping sets ((resin, month_of(on_date)), (month_of(on_date)))
),

monthly as (
    select resins.*, coalesce(poured_cents.resin_cents, 0) as resin_cents, coalesce(poured_cents.waste_cents, 0) as waste_cents, coalesce(poured_cents.pours, 0) as pours
    from resins left join poured_cents on poured_cents.item = resins.item and poured_cents.month = resins.month
),

spans as (select 'month' as span, 1 as months union all select 'twelve months', 12 union all select 'all', 100000),

numbered as (select *, row_number() over (partition by item order by month) as number from monthly),

summed as (
    select
        last.item, last.month, spans.span, min(part.month) as from_month,
        arg_min(part.opening_g, part.month) as opening_g, sum(part.bought_g) as bought_g, sum(part.missing_g) as missing_g, sum(part.poured_g) as poured_g,
        sum(part.good_g) as good_g, sum(part.trimmed_g) as trimmed_g, sum(part.cup_g) as cup_g, sum(part.spilled_g) as spilled_g,
        sum(part.pour_unexplained_g) as pour_unexplained_g, sum(part.other_g) as other_g, sum(part.found_g) as found_g, sum(part.shortage_g) as shortage_g,
        any_value(last.on_hand_g) as on_hand_g, sum(part.resin_cents) as resin_cents, sum(part.waste_cents) as waste_cents, sum(part.pours) as pours
    from numbered as last
    cross join spans
    join numbered as part on part.item = last.item and part.number between last.number - spans.months + 1 and last.number
    group by last.item, last.month, spans.span
)

select
    item, month, span, from_month, cast(pours as bigint) as pours, opening_g, bought_g, missing_g, found_g, poured_g, good_g, trimmed_g, cup_g, spilled_g, pour_unexplained_g,
    other_g, shortage_g, on_hand_g, poured_g - good_g as wasted_g,
    case when poured_g > 0 then good_g / poured_g end as good_share, case when poured_g > 0 then (poured_g - good_g) / poured_g end as wasted_share,
    cast(resin_cents as bigint) as resin_cents, cast(waste_cents as bigint) as waste_cents
from summed
