-- One row per month, month compared with, and part of the difference in result (own pay as a cost); the parts add up to it exactly.
-- Per product that both months sold: price is what it brought more than at the other month's price for the same size; wage,
-- hours, material price, yield and overhead are what it cost more than at the other month's rates and quantities. Volume is the
-- change in what was sold, at the other month's prices and average margin; mix the rest of the margin: products that leave
-- more of their price, or less.
-- Each is rounded once, as the difference of two rounded sums, so that all rounding ends in mix and yield.
-- @key month, against, part
with products as (select * from money._bridge_product),

totals as (
    select
        month, against, any_value(other) as other, sum(past_revenue_cents) as past_revenue_cents,
        sum(revenue_cents - labour_cents - overhead_cents - material_cents) as margin_cents,
        sum(past_revenue_cents - past_labour_cents - past_overhead_cents - past_material_cents) as past_margin_cents
    from products group by month, against
),

-- what this month's units would have brought and cost as the other month's did
flexed as (
    select
        *, size > 0 and past_size > 0 as shared,
        case when size > 0 and past_size > 0 then cut(cast(past_revenue_cents as bigint), cast(size as bigint), cast(past_size as bigint)) else revenue_cents end as at_revenue_cents,
        case when size > 0 and past_size > 0 then cut(cast(past_labour_cents as bigint), cast(size as bigint), cast(past_size as bigint)) else labour_cents end as at_labour_cents,
        case when size > 0 and past_size > 0 then cut(cast(past_overhead_cents as bigint), cast(size as bigint), cast(past_size as bigint)) else overhead_cents end as at_overhead_cents,
        case when size > 0 and past_size > 0 then cut(cast(past_material_cents as bigint), cast(size as bigint), cast(past_size as bigint)) else material_cents end as at_material_cents
    from products
),

split as (
    select
        *,
        -- the other month's wage for this month's hours; hours that nobody knows can't be told from the wage
        case when shared and seconds > 0 and past_seconds > 0 then cut(cast(past_labour_cents as bigint), cast(seconds as bigint), cast(past_seconds as bigint)) else labour_cents end as at_wage_cents
    from flexed
),

-- the other month's price for this month's quantity of each material, where both months know both
materials as (
    select
        products.month, products.against, products.product,
        sum(now.cents - cut(past.cents, now.quantity, past.quantity)) as dearer_cents
    from products
    join money._bridge_material as now on now.month = products.month and now.product = products.product
    join money._bridge_material as past on past.month = products.other and past.product = products.product and past.material = now.material
    where products.size > 0 and products.past_size > 0 and now.quantity > 0 and past.quantity > 0
    group by products.month, products.against, products.product
),

parts_by_product as (
    select
        split.month, split.against,
        sum(revenue_cents - at_revenue_cents) as price_cents,
        -sum(labour_cents - at_wage_cents) as wage_cents,
        -sum(at_wage_cents - at_labour_cents) as hours_cents,
        -sum(coalesce(dearer_cents, 0)) as material_price_cents,
        -sum(material_cents - at_material_cents - coalesce(dearer_cents, 0)) as yield_cents,
        -sum(overhead_cents - at_overhead_cents) as overhead_cents,
        sum(at_revenue_cents - at_labour_cents - at_overhead_cents - at_material_cents) as at_margin_cents, sum(at_revenue_cents) as at_revenue_cents
    from split
    left join materials on materials.month = split.month and materials.against = split.against and materials.product = split.product
    group by split.month, split.against
),

volumes as (
    select
        totals.month, totals.against,
        case when past_revenue_cents > 0 then cut(cast(past_margin_cents as bigint), cast(greatest(at_revenue_cents, 0) as bigint), cast(past_revenue_cents as bigint)) - past_margin_cents
             else at_margin_cents - past_margin_cents end as volume_cents,
        past_margin_cents, at_margin_cents
    from totals
    join parts_by_product as parts on parts.month = totals.month and parts.against = totals.against
),

lines as (
    select
        month, result_cents, gross_margin_cents, selling_cents, period_labour_cents, not_absorbed_cents, loss_cents, write_down_cents,
        result_cents - gross_margin_cents + selling_cents + period_labour_cents + not_absorbed_cents + loss_cents + write_down_cents as rest_cents
    from money.month
),

comparisons as (
    select now.month, 'the month before' as against, cast(now.month - interval 1 month as date) as other from work.month as now
    union all
    select now.month, 'the same month last year', cast(now.month - interval 12 month as date) from work.month as now
),

parts as (
    select
        comparisons.month, comparisons.against, comparisons.other,
        unnest(['price', 'volume', 'mix', 'wage', 'hours', 'material price', 'yield', 'overhead in pieces', 'fees', 'other hours', 'not absorbed', 'losses', 'write-downs', 'rest']) as part,
        unnest(['Prices', 'How much was sold', 'What kinds were sold', 'Pay for an hour', 'Hours in pieces', 'Material prices', 'Material in pieces', 'Rent in pieces', 'Selling', 'Other hours', 'Idle rent, machines', 'Losses', 'Write-downs', 'All else']) as part_name,
        unnest(range(1, 15)) as part_number,
        unnest([
            coalesce(price_cents, 0),
            coalesce(volume_cents, 0),
            coalesce(volumes.at_margin_cents - volumes.past_margin_cents - volume_cents, 0),
            coalesce(wage_cents, 0), coalesce(hours_cents, 0), coalesce(material_price_cents, 0), coalesce(yield_cents, 0), coalesce(overhead_cents, 0),
            past.selling_cents - now.selling_cents, past.period_labour_cents - now.period_labour_cents, past.not_absorbed_cents - now.not_absorbed_cents,
            past.loss_cents - now.loss_cents, past.write_down_cents - now.write_down_cents,
            -- other income, other costs, earlier months, and what a closed month's margin was closed at
            now.rest_cents - past.rest_cents + (now.gross_margin_cents - past.gross_margin_cents) - coalesce(totals.margin_cents - totals.past_margin_cents, 0)
        ]) as cents,
        now.result_cents, past.result_cents as other_result_cents
    from comparisons
    join lines as now on now.month = comparisons.month
    join lines as past on past.month = comparisons.other
    left join totals on totals.month = comparisons.month and totals.against = comparisons.against
    left join parts_by_product on parts_by_product.month = comparisons.month and parts_by_product.against = comparisons.against
    left join volumes on volumes.month = comparisons.month and volumes.against = comparisons.against
)

select
    month, against, other as other_month, cast(part_number as bigint) as part_number, part, part_name, cast(cents as bigint) as cents, result_cents, other_result_cents
from parts
