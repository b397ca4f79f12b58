-- One row per month and span that ends with it (the month, the year so far): the figures by which a
-- year is looked at.
-- A year so far takes in its months from January, or from the first on record. Resin, wood and
-- rework are of the pieces and pours of those months; pieces that may still come back are left out
-- of the share that did. Of under four hours nothing is said for one.
-- @key month, span
-- @check reworked_pieces between 0 and pieces
with shop_wide as (
    select
        month, count(*) filter (where not young) as pieces,
        count(*) filter (where not young and reworked) as reworked_pieces,
        count(*) filter (where young) as young_pieces
    from quality.piece where factor = 'shop' and month is not null group by month
),

resin as (
    select month, poured_g, good_g, pours from material.resin_span
    where item = 'all resins' and span = 'month'
),

monthly as (
    select
        month.month, month.whole, month.recorded, month.result_cents, month.owners_result_cents,
        month.owner_hours, month.pieces_sold, coalesce(resin.pours, 0) as pours,
        coalesce(resin.poured_g, 0) as poured_g, coalesce(resin.good_g, 0) as good_g,
        coalesce(wood.pieces, 0) as wood_pieces, coalesce(wood.gone_dm3, 0) as gone_dm3,
        coalesce(wood.finished_dm3, 0) as finished_dm3,
        coalesce(shop_wide.pieces, 0) as pieces, coalesce(shop_wide.reworked_pieces, 0) as reworked_pieces,
        coalesce(shop_wide.young_pieces, 0) as young_pieces
    from money.month
    left join resin on resin.month = month.month
    left join material.wood_month as wood on wood.month = month.month
    left join shop_wide on shop_wide.month = month.month
),

spans as (
    select 'month' as span, *, month as part_month from monthly
    union all by name
    select
        'year so far' as span, last.month, last.whole, part.* exclude (month, whole),
        part.month as part_month
    from monthly as last
    join monthly as part
        on part.month between cast(date_trunc('year', last.month) as date) and last.month
),

summed as (
    select
        month, span, bool_and(whole) as whole, cast(count(*) as bigint) as months,
        cast(count(*) filter (where recorded) as bigint) as recorded_months,
        cast(sum(columns(['result_cents', 'owners_result_cents', 'pieces_sold', 'pours',
            'wood_pieces', 'pieces', 'reworked_pieces', 'young_pieces'])) as bigint),
        sum(columns(['owner_hours', 'poured_g', 'good_g', 'gone_dm3', 'finished_dm3'])
            order by part_month)
    from spans group by month, span
)

select
    month, span, whole, months, recorded_months, result_cents, owners_result_cents, owner_hours,
    for_an_hour(owners_result_cents, whole(owner_hours * 3600), 'a month')
        as pay_per_hour_cents,
    pieces_sold, pours, poured_g, good_g,
    case when poured_g > 0 then good_g / poured_g end as good_share,
    wood_pieces, gone_dm3, finished_dm3,
    case when gone_dm3 > 0 then finished_dm3 / gone_dm3 end as yield_share,
    pieces, reworked_pieces,
    case when pieces > 0 then reworked_pieces / pieces end as rework_share,
    -- Wilson's score interval, 95 %
    case when pieces > 0 then greatest(
        (reworked_pieces + 1.9207 - 1.96 * sqrt(reworked_pieces * (1 - rework_share) + 0.9604))
        / (pieces + 3.8415), 0
    ) end as low,
    case when pieces > 0 then least(
        (reworked_pieces + 1.9207 + 1.96 * sqrt(reworked_pieces * (1 - rework_share) + 0.9604))
        / (pieces + 3.8415), 1
    ) end as high,
    young_pieces
from summed
