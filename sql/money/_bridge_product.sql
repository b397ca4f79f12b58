-- One row per month, month compared with, and product: what it brought and cost in both, in lines
-- that can be split.
-- The other month is the one before, or the same one last year. Figures are net of returns. `size`
-- is what prices, hours and material are compared by: the surface of what was sold where both
-- months know it, else the number of units.
-- @key month, against, product
with comparisons as (
    select month, 'the month before' as against, months_later(month, -1) as other
    from work.month
    union all by name
    select
        month, 'the same month last year' as against,
        months_later(month, -12) as other
    from work.month
),

sized as (
    select
        entry.*, sign(entry.units) * cut(piece.area_mm2, abs(entry.units), piece.units) as area_mm2
    from money._margin_entry as entry
    left join work.piece on piece.piece = entry.piece
),

monthly as (
    select
        month, product, sum(units) as units,
        case when count(*) filter (where units <> 0 and area_mm2 is null) = 0
             then sum(area_mm2) filter (where units <> 0) end as area_mm2,
        sum(revenue_cents) as revenue_cents, sum(labour_cents) as labour_cents,
        sum(seconds) as seconds,
        sum(overhead_cents) as overhead_cents,
        sum(cost_of_sales_cents) - sum(labour_cents) - sum(overhead_cents) as material_cents
    from sized group by month, product
),

known as (
    select comparisons.month, comparisons.against, comparisons.other, monthly.product
    from comparisons
    join monthly on monthly.month in (comparisons.month, comparisons.other)
    where comparisons.other >= (select min(month) from work.month)
    group by all
),

both_sized as (
    select known.*, now.area_mm2 > 0 and past.area_mm2 > 0 as by_area, now, past
    from known
    left join monthly as now on now.month = known.month and now.product = known.product
    left join monthly as past on past.month = known.other and past.product = known.product
)

select
    month, against, other, product,
    coalesce(case when by_area then now.area_mm2 else now.units end, 0) as size,
    coalesce(case when by_area then past.area_mm2 else past.units end, 0) as past_size,
    coalesce(now.units, 0) as units, coalesce(now.revenue_cents, 0) as revenue_cents,
    coalesce(now.labour_cents, 0) as labour_cents, coalesce(now.seconds, 0) as seconds,
    coalesce(now.overhead_cents, 0) as overhead_cents,
    coalesce(now.material_cents, 0) as material_cents, coalesce(past.units, 0) as past_units,
    coalesce(past.revenue_cents, 0) as past_revenue_cents,
    coalesce(past.labour_cents, 0) as past_labour_cents, coalesce(past.seconds, 0) as past_seconds,
    coalesce(past.overhead_cents, 0) as past_overhead_cents,
    coalesce(past.material_cents, 0) as past_material_cents
from both_sized
