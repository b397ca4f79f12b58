-- One row per month: what the month after it must sell to break even at the usual mix, with own pay
-- and in the books.
-- Usual is the average of the twelve months that end with it, or of as many as there are. What
-- grows with each unit sold is material, labour in pieces, scrap and the sale's own fees; the rest
-- (rent, machines, hours of no piece, advertising, losses) comes every month. The margin of safety
-- is how far the month's own sales lay above its break-even.
-- @key month, reckoning
-- @check contribution_cents = net_revenue_cents - variable_cents
with bases as (select unnest(['own pay', 'books']) as reckoning, unnest([true, false]) as with_own),

sorted as (
    select
        line.*,
        line.line = 'cost of sales' and known.cost_group not in ('machine', 'overhead')
            or line.line = 'selling' and line.place = 'sold' as variable,
        line.line in ('other hours', 'other costs', 'losses')
            or line.line = 'selling' and line.place <> 'sold' as fixed
    from money._line_sum as line
    left join settings.layer as known on known.layer = line.layer
),

lines as (
    select
        sorted.month, bases.reckoning,
        sum(cents) filter (where line in ('revenue', 'refunds')) as revenue_cents,
        -sum(cents) filter (where variable) as variable_cents,
        -sum(cents) filter (where fixed) as fixed_cents
    from sorted
    cross join bases
    where bases.with_own or not sorted.own_labour
    group by sorted.month, bases.reckoning
),

sold as (select month, sum(units) as units from money._sale group by month),

pools as (
    select month, sum(cents) as cents, sum(own_cents) as own_cents
    from cost.pool_rate group by month
),

-- bills of no known pool
bills as (
    select
        month_of(on_date) as month,
        sum(case when from_place = 'receipt' then cents else -cents end) as cents
    from cost.movement
    join settings.layer as known on known.layer = movement.layer
    where cost_group in ('overhead', 'machine') and 'receipt' in (from_place, to_place)
        and 'period' in (from_place, to_place)
    group by month_of(on_date)
),

monthly as (
    select
        month.month, month.number, bases.reckoning, coalesce(sold.units, 0) as units,
        coalesce(lines.revenue_cents, 0) as revenue_cents,
        coalesce(lines.variable_cents, 0) as variable_cents,
        coalesce(lines.fixed_cents, 0) + coalesce(bills.cents, 0) + coalesce(pools.cents, 0)
            - case when bases.with_own then 0 else coalesce(pools.own_cents, 0) end as fixed_cents
    from work.month
    cross join bases
    left join lines on lines.month = month.month and lines.reckoning = bases.reckoning
    left join sold on sold.month = month.month
    left join pools on pools.month = month.month
    left join bills on bills.month = month.month
),

yearly as (
    select
        month, reckoning, least(number, 12) as months, revenue_cents as month_revenue_cents,
        cast(sum(units) over year as bigint) as units,
        cast(sum(revenue_cents) over year as bigint) as net_revenue_cents,
        cast(sum(variable_cents) over year as bigint) as variable_cents,
        cast(sum(fixed_cents) over year as bigint) as fixed_cents
    from monthly
    window year as (partition by reckoning order by month rows between 11 preceding and current row)
),

contributed as (
    select
        *, net_revenue_cents - variable_cents as contribution_cents,
        cut(fixed_cents, 1, months) as fixed_month_cents
    from yearly
),

broken as (
    select
        *,
        -- rounded up: the last unit is a whole one
        case when contribution_cents > 0 and units > 0
             then greatest(0, cast(
                 (cast(fixed_month_cents as hugeint) * units + contribution_cents - 1)
                 // contribution_cents as bigint
             )) end as break_even_units,
        case when contribution_cents > 0
             then greatest(0, cut(fixed_month_cents, net_revenue_cents, contribution_cents))
             end as break_even_cents
    from contributed
)

select
    month, reckoning, months, units, net_revenue_cents, variable_cents, contribution_cents,
    case when units > 0 then cut(contribution_cents, 1, units) end as contribution_per_unit_cents,
    case when net_revenue_cents > 0
         then contribution_cents / net_revenue_cents end as contribution_share,
    fixed_month_cents, break_even_units, break_even_cents,
    cast(month_revenue_cents - break_even_cents as bigint) as safety_cents,
    case when month_revenue_cents > 0
         then (month_revenue_cents - break_even_cents) / month_revenue_cents end as safety_share
from broken
