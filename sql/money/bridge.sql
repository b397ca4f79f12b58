-- One row per month, month compared with, and part of the difference in result (own pay as a cost);
-- the parts add up to it.
-- Per product that both months sold: price is what it brought more than at the other month's price
-- for the same size; wage, hours, material price, yield and overhead are what it cost more than at
-- the other month's rates and quantities. Volume is the change in what was sold, at the other
-- month's prices and average margin; mix the rest of the margin: products that leave more of their
-- price, or less. Both count what was sold by its revenue, so that a table is more than a coaster;
-- `by_units_cents` is the same two by the number of units, as textbooks have them. Each is rounded
-- once, as the difference of two rounded sums, so that all rounding ends in mix and yield. The parts
-- are those of `money.difference`.
-- @key month, against, part
with products as (
    select * replace (
        cast(size as bigint) as size, cast(past_size as bigint) as past_size,
        cast(seconds as bigint) as seconds, cast(past_seconds as bigint) as past_seconds,
        cast(past_revenue_cents as bigint) as past_revenue_cents,
        cast(past_labour_cents as bigint) as past_labour_cents,
        cast(past_overhead_cents as bigint) as past_overhead_cents,
        cast(past_material_cents as bigint) as past_material_cents
    ), size > 0 and past_size > 0 as shared
    from money._bridge_product
),

totals as (
    select
        month, against, any_value(other) as other,
        cast(sum(past_revenue_cents) as bigint) as past_revenue_cents,
        cast(sum(units) as bigint) as units, cast(sum(past_units) as bigint) as past_units,
        sum(revenue_cents - labour_cents - overhead_cents - material_cents) as margin_cents,
        cast(sum(
            past_revenue_cents - past_labour_cents - past_overhead_cents - past_material_cents
        ) as bigint) as past_margin_cents
    from products group by month, against
),

-- what this month's units would have brought and cost as the other month's did
flexed as (
    select
        *,
        case when shared then cut(past_revenue_cents, size, past_size)
             else revenue_cents end as at_revenue_cents,
        case when shared then cut(past_labour_cents, size, past_size)
             else labour_cents end as at_labour_cents,
        case when shared then cut(past_overhead_cents, size, past_size)
             else overhead_cents end as at_overhead_cents,
        case when shared then cut(past_material_cents, size, past_size)
             else material_cents end as at_material_cents,
        -- the other month's wage for this month's hours; hours that nobody knows can't be told from
        -- the wage
        case when shared and seconds > 0 and past_seconds > 0
             then cut(past_labour_cents, seconds, past_seconds)
             else labour_cents end as at_wage_cents
    from products
),

-- the other month's price for this month's quantity of each material, where both months know both
materials as (
    select
        products.month, products.against, products.product,
        sum(now.cents - cut(past.cents, now.quantity, past.quantity)) as dearer_cents
    from products
    join money._bridge_material as now
        on now.month = products.month and now.product = products.product
    join money._bridge_material as past
        on past.month = products.other and past.product = products.product
        and past.material = now.material
    where products.shared and now.quantity > 0 and past.quantity > 0
    group by products.month, products.against, products.product
),

parts_by_product as (
    select
        flexed.month, flexed.against,
        sum(revenue_cents - at_revenue_cents) as price_cents,
        -sum(labour_cents - at_wage_cents) as wage_cents,
        -sum(at_wage_cents - at_labour_cents) as hours_cents,
        -sum(coalesce(dearer_cents, 0)) as material_price_cents,
        -sum(material_cents - at_material_cents - coalesce(dearer_cents, 0)) as yield_cents,
        -sum(overhead_cents - at_overhead_cents) as overhead_cents,
        sum(
            at_revenue_cents - at_labour_cents - at_overhead_cents - at_material_cents
        ) as at_margin_cents,
        cast(sum(at_revenue_cents) as bigint) as at_revenue_cents
    from flexed
    left join materials
        on materials.month = flexed.month and materials.against = flexed.against
        and materials.product = flexed.product
    group by flexed.month, flexed.against
),

volumes as (
    select
        parts.*, totals.margin_cents - totals.past_margin_cents as margin_cents,
        at_margin_cents - past_margin_cents as sold_cents,
        case when past_revenue_cents > 0
             then cut(past_margin_cents, greatest(at_revenue_cents, 0), past_revenue_cents)
             else at_margin_cents end - past_margin_cents as volume_cents,
        case when past_units > 0
             then cut(past_margin_cents, greatest(units, 0), past_units) - past_margin_cents
        end as volume_by_units_cents
    from totals
    join parts_by_product as parts on parts.month = totals.month and parts.against = totals.against
),

lines as (
    select
        month, result_cents, gross_margin_cents, selling_cents, period_labour_cents,
        not_absorbed_cents, loss_cents,
        write_down_cents,
        result_cents - gross_margin_cents + selling_cents + period_labour_cents
            + not_absorbed_cents + loss_cents + write_down_cents as rest_cents
    from money.month
),

comparisons as (
    select month, 'the month before' as against, months_later(month, -1) as other
    from work.month
    union all by name
    select
        month, 'the same month last year' as against,
        months_later(month, -12) as other
    from work.month
),

parts as (
    select
        comparisons.month, comparisons.against, comparisons.other,
        now.result_cents, past.result_cents as other_result_cents,
        volume_by_units_cents, sold_cents - volume_by_units_cents as mix_by_units_cents,
        unnest([
            { 'part': 'price', 'cents': coalesce(price_cents, 0) },
            { 'part': 'volume', 'cents': coalesce(volume_cents, 0) },
            { 'part': 'mix', 'cents': coalesce(sold_cents - volume_cents, 0) },
            { 'part': 'wage', 'cents': coalesce(wage_cents, 0) },
            { 'part': 'hours', 'cents': coalesce(hours_cents, 0) },
            { 'part': 'material price', 'cents': coalesce(material_price_cents, 0) },
            { 'part': 'yield', 'cents': coalesce(yield_cents, 0) },
            { 'part': 'overhead in pieces', 'cents': coalesce(overhead_cents, 0) },
            { 'part': 'fees', 'cents': past.selling_cents - now.selling_cents },
            { 'part': 'other hours', 'cents': past.period_labour_cents - now.period_labour_cents },
            { 'part': 'not absorbed', 'cents': past.not_absorbed_cents - now.not_absorbed_cents },
            { 'part': 'losses', 'cents': past.loss_cents - now.loss_cents },
            { 'part': 'write-downs', 'cents': past.write_down_cents - now.write_down_cents },
            -- other income, other costs, earlier months, and what a closed month's margin was
            -- closed at
            { 'part': 'rest', 'cents': now.rest_cents - past.rest_cents
                + now.gross_margin_cents - past.gross_margin_cents - coalesce(margin_cents, 0) }
        ], recursive := true)
    from comparisons
    join lines as now on now.month = comparisons.month
    join lines as past on past.month = comparisons.other
    left join volumes on volumes.month = comparisons.month and volumes.against = comparisons.against
)

select
    parts.month, parts.against, parts.other as other_month, difference.part_number, parts.part,
    difference.part_name, cast(parts.cents as bigint) as cents,
    cast(case parts.part
        when 'volume' then parts.volume_by_units_cents
        when 'mix' then parts.mix_by_units_cents end as bigint) as by_units_cents,
    parts.result_cents,
    parts.other_result_cents, parts.result_cents - parts.other_result_cents as result_change_cents
from parts
join money.difference on difference.part = parts.part
