-- One row per month: what was sold, what it cost, what the rest of the month cost, and what an hour paid.
-- Revenue counts on handover, without tax. `result_cents` counts own pay as a cost (for prices); `books_result_cents` does
-- not (for the year end). Pay per hour is the books result before owners' pay over all owners' hours, market and office too.
-- @key month
with sales as (
    select
        month_of(on_date) as month,
        sum(case when coalesce(quantity, 1) > 0 then coalesce(quantity, 1) * price_cents - coalesce(discount_cents, 0) + coalesce(shipping_charged_cents, 0) end) as revenue_cents,
        sum(case when coalesce(quantity, 1) < 0 then coalesce(quantity, 1) * price_cents - coalesce(discount_cents, 0) + coalesce(shipping_charged_cents, 0) end) as refund_cents,
        sum(case when coalesce(quantity, 1) > 0 then quantity end) as pieces_sold,
        sum(coalesce(sales_tax_cents, 0)) as tax_cents
    from records.sales group by month_of(on_date)
),

signed as (
    select month_of(on_date) as month, to_place as place, layer, origin, operation, cents from cost.trace where to_place in ('sold', 'period', 'waste', 'own use')
    union all
    select month_of(on_date), from_place, layer, origin, operation, -cents from cost.trace where from_place in ('sold', 'period', 'waste', 'own use')
),

costs as (
    select
        signed.month,
        sum(cents) filter (where place = 'sold' and layer in ('wood', 'offcut')) as sold_wood_cents,
        sum(cents) filter (where place = 'sold' and layer in ('resin', 'resin waste', 'colourant')) as sold_resin_cents,
        sum(cents) filter (where place = 'sold' and layer in ('finish', 'abrasive', 'consumable', 'hardware')) as sold_supplies_cents,
        sum(cents) filter (where place = 'sold' and layer = 'labour') as sold_labour_cents,
        sum(cents) filter (where place = 'sold' and layer = 'machine') as sold_machine_cents,
        sum(cents) filter (where place = 'sold' and layer = 'overhead') as sold_overhead_cents,
        sum(cents) filter (where place = 'sold' and layer = 'spoilage') as sold_spoilage_cents,
        sum(cents) filter (where place = 'sold' and layer not in ('selling', 'packaging')) as cost_of_sales_cents,
        sum(cents) filter (where layer in ('selling', 'packaging') and place in ('sold', 'period')) as selling_cents,
        sum(cents) filter (where place = 'period' and layer = 'labour') as period_labour_cents,
        sum(cents) filter (where place = 'period' and layer in ('overhead', 'machine')) as not_absorbed_cents,
        sum(cents) filter (where place = 'period' and layer not in ('overhead', 'machine', 'labour', 'selling', 'packaging')) as other_period_cents,
        sum(cents) filter (where place = 'waste') as loss_cents,
        sum(cents) filter (where place = 'own use') as own_use_cents,
        sum(cents) filter (where origin = 'own labour' and place <> 'own use') as own_labour_cents
    from signed group by signed.month
),

owners as (select distinct name from settings.person_rate where role in ('owner', 'partner')),

worked as (
    select
        month_of(hours.on_date) as month,
        sum(hours.seconds) filter (where hours.kind = 'bench') as bench_seconds,
        sum(hours.seconds) filter (where hours.kind = 'shop') as shop_seconds,
        sum(hours.seconds) filter (where hours.kind = 'selling') as selling_seconds,
        sum(hours.seconds) filter (where hours.rework) as rework_seconds,
        sum(hours.seconds) filter (where owners.name is not null or hours.person is null) as owner_seconds
    from work.hours
    left join owners on owners.name = hours.person
    where hours.attended
    group by month_of(hours.on_date)
),

results as (
    select
        month.month, month.whole,
        coalesce(sales.revenue_cents, 0) as revenue_cents, coalesce(sales.refund_cents, 0) as refund_cents, coalesce(sales.pieces_sold, 0) as pieces_sold,
        coalesce(sales.tax_cents, 0) as tax_cents,
        coalesce(sold_wood_cents, 0) as sold_wood_cents, coalesce(sold_resin_cents, 0) as sold_resin_cents, coalesce(sold_supplies_cents, 0) as sold_supplies_cents,
        coalesce(sold_labour_cents, 0) as sold_labour_cents, coalesce(sold_machine_cents, 0) as sold_machine_cents, coalesce(sold_overhead_cents, 0) as sold_overhead_cents,
        coalesce(sold_spoilage_cents, 0) as sold_spoilage_cents, coalesce(cost_of_sales_cents, 0) as cost_of_sales_cents, coalesce(selling_cents, 0) as selling_cents,
        coalesce(period_labour_cents, 0) as period_labour_cents, coalesce(not_absorbed_cents, 0) as not_absorbed_cents, coalesce(other_period_cents, 0) as other_period_cents,
        coalesce(loss_cents, 0) as loss_cents, coalesce(own_use_cents, 0) as own_use_cents, coalesce(own_labour_cents, 0) as own_labour_cents,
        coalesce(bench_seconds, 0) as bench_seconds, coalesce(shop_seconds, 0) as shop_seconds, coalesce(selling_seconds, 0) as selling_seconds,
        coalesce(rework_seconds, 0) as rework_seconds, coalesce(owner_seconds, 0) as owner_seconds
    from work.month
    left join sales on sales.month = month.month
    left join costs on costs.month = month.month
    left join worked on worked.month = month.month
),

summed as (
    select
        *,
        revenue_cents + refund_cents - cost_of_sales_cents as gross_margin_cents,
        revenue_cents + refund_cents - cost_of_sales_cents - selling_cents - period_labour_cents - not_absorbed_cents - other_period_cents - loss_cents as result_cents
    from results
)

select
    month, whole, revenue_cents::bigint as revenue_cents, refund_cents::bigint as refund_cents, pieces_sold::bigint as pieces_sold, tax_cents::bigint as tax_cents,
    sold_wood_cents::bigint as sold_wood_cents, sold_resin_cents::bigint as sold_resin_cents, sold_supplies_cents::bigint as sold_supplies_cents,
    sold_labour_cents::bigint as sold_labour_cents, sold_machine_cents::bigint as sold_machine_cents, sold_overhead_cents::bigint as sold_overhead_cents,
    sold_spoilage_cents::bigint as sold_spoilage_cents, cost_of_sales_cents::bigint as cost_of_sales_cents,
    gross_margin_cents::bigint as gross_margin_cents, selling_cents::bigint as selling_cents, period_labour_cents::bigint as period_labour_cents,
    not_absorbed_cents::bigint as not_absorbed_cents, other_period_cents::bigint as other_period_cents, loss_cents::bigint as loss_cents,
    own_use_cents::bigint as own_use_cents,
    result_cents::bigint as result_cents, own_labour_cents::bigint as own_labour_cents, (result_cents + own_labour_cents)::bigint as books_result_cents,
    bench_seconds / 3600 as bench_hours, shop_seconds / 3600 as shop_hours, selling_seconds / 3600 as selling_hours, rework_seconds / 3600 as rework_hours,
    owner_seconds / 3600 as owner_hours,
    case when owner_seconds > 0 then cast(round((result_cents + own_labour_cents) / (owner_seconds / 3600)) as bigint) end as pay_per_hour_cents
from summed
