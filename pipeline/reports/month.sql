-- What the month report asks of the published database: `$month` is the month's first day, `$shown`
-- the rows of a list.

-- @query shop
select shop.name, shop.currency, shop.units from settings.shop as shop

-- @query result
from money.month where month = $month

-- @query bridge
select bridge.*, difference.better, difference.worse
from money.bridge
join money.difference on difference.part = bridge.part
where bridge.month = $month order by bridge.against, bridge.part_number

-- @query compared
from money.month where month in (select other_month from money.bridge where month = $month)

-- @query course
select month, pay_per_hour_cents, result_cents, month = $month as chosen
from money.month where month <= $month and month > $month - interval 12 months order by month

-- @query lines
with
result as (
    from money.month where month = $month
),

named as (
    select unnest([
        {'line': 'Sold', 'cents': revenue_cents},
        {'line': 'Refunds', 'cents': refund_cents},
        {'line': 'Other income', 'cents': other_income_cents},
        {'line': 'Wood in what was sold', 'cents': -sold_wood_cents},
        {'line': 'Resin', 'cents': -sold_resin_cents},
        {'line': 'Finish, abrasives, hardware', 'cents': -sold_supplies_cents},
        {'line': 'Work in it', 'cents': -sold_labour_cents},
        {'line': 'Machines', 'cents': -sold_machine_cents},
        {'line': 'Rent and power', 'cents': -sold_overhead_cents},
        {'line': 'Usual scrap', 'cents': -sold_spoilage_cents},
        {'line': 'Selling', 'cents': -selling_cents},
        {'line': 'Other hours', 'cents': -period_labour_cents},
        {'line': 'Idle rent, machines', 'cents': -not_absorbed_cents},
        {'line': 'Other costs', 'cents': -other_period_cents},
        {'line': 'Losses', 'cents': -loss_cents},
        {'line': 'Write-downs', 'cents': -write_down_cents},
        {'line': 'Earlier months', 'cents': earlier_cents},
        {'line': 'Result with own pay', 'cents': result_cents},
        {'line': 'Result in the books, before own pay', 'cents': books_result_cents},
    ], recursive := true)
    from result
)

select line, cents from named where cents <> 0 or line like 'Result%' or line = 'Sold'

-- @query events
select
    event, on_date, taken_cents, units, brought_back, booth_cents, result_cents, hours,
    pay_per_hour_cents
from money.event
where on_date >= $month and on_date < $month + interval 1 month order by on_date, event limit 6

-- @query made
with
finished as (
    from cost.piece where finished >= $month and finished < $month + interval 1 month
)

select
    piece, product, species, finish, quantity, hours, rework_cents, made_cents, unit_cents,
    estimated_share, count(*) over ()::bigint as all_rows,
    sum(made_cents) over ()::bigint as all_cents
from finished order by made_cents desc, piece limit $shown

-- @query sold
-- all that the month's page lists: also what came later on pieces that were sold before, sales that no
-- piece is known for, and selling of no one piece
with
went as (
    select piece, bool_or(units > 0) as went
    from money.sold where on_date >= $month and on_date < $month + interval 1 month group by piece
)

select
    earned.piece, earned.product, earned.net_revenue_cents as brought_cents,
    earned.cost_of_sales_cents as cost_cents, earned.selling_cents,
    earned.margin_cents as left_cents, count(*) over ()::bigint as all_rows,
    count(*) filter (where went.went) over ()::bigint as went_rows,
    count(*) filter (where not went.went) over ()::bigint as back_rows,
    count(*) filter (where earned.piece is not null and went.piece is null) over ()::bigint as later_rows,
    (sum(earned.margin_cents) filter (where earned.piece is not null and went.piece is null) over ())::bigint
        as later_cents,
    sum(earned.margin_cents) over ()::bigint as all_cents
from money.piece_margin as earned
left join went on went.piece = earned.piece
where earned.span = 'month' and earned.month = $month
order by brought_cents desc, left_cents, earned.piece, earned.product limit $shown

-- @query resin
select item, pours, poured_g, good_g, wasted_g, good_share, resin_cents, waste_cents
from material.resin_span
where month = $month and span = 'month' and poured_g > 0
order by item <> 'all resins', poured_g desc, item
limit 4

-- @query wood
select level, lots, pieces, gone_yield_share, gone_low_share, gone_high_share
from material.wood_group where factor in ('all', 'form') and gone_yield_share is not null order by factor, level

-- @query wood_used
select
    coalesce(sum(quantity) filter (where unit = 'mm3'), 0)::bigint as used_mm3,
    coalesce(sum(cents), 0)::bigint as cents
from cost.trace
where from_place = 'stock' and to_place = 'piece' and layer = 'wood'
    and on_date >= $month and on_date < $month + interval 1 month

-- @query quality
select pieces, first_pass, rate, centre, lower, upper, outside, method, young_pieces
from quality.month where month = $month

-- @query defects
select defect, action, count(*)::bigint as times
from records.inspections
where on_date >= $month and on_date < $month + interval 1 month and defect is not null
    and defect <> 'none'
group by defect, action order by times desc, defect, action limit 5

-- @query rework_cost
-- on pieces, and as a cost of the month on those that are sold or that nobody named
with mending as (
    from cost.trace where on_date >= $month and on_date < $month + interval 1 month
        and (
            rework
            or layer = 'labour' and row_id in (select row_id from records.hours where rework)
        )
)

select coalesce(sum(case
    when from_place in ('labour', 'stock') and to_place = 'period' then cents
    when from_place = 'period' and to_place in ('labour', 'stock') then -cents
    else into_piece(from_place, to_place, layer, item, cents) end), 0)::bigint as cents
from mending

-- @query unnamed
select coalesce(sum(cents), 0)::bigint as cents from cost.unnamed where month = $month

-- @query savings
select savings.factor, savings.level, savings.cents_per_month, savings.low, savings.high,
    margins.units, margins.margin_per_month_cents, rates.pieces, rates.events, rates.rate,
    rates.low as rate_low, rates.high as rate_high
from quality.saving as savings
join quality.rate as rates
    on rates.factor = savings.factor and rates.level = savings.level and rates.measure = 'rework'
left join money.group_margin as margins
    on margins.factor = savings.factor and margins.level = savings.level
where savings.clear order by savings.cents_per_month desc, savings.factor, savings.level limit 2

-- @query findings
select rows, meaning from checks.result where rows > 0 order by severity, rows desc, name limit 3
