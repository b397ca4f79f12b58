-- What the year-end workbook asks of the published database: `$first` is the year's first day,
-- `$after` the next one's.
-- Everything is without own labour. Stock is what lies on the shelf and in pieces, scrap on its way
-- to them included.

-- @query whole
select count(*) filter (where whole) = 12 from money.month where month >= $first and month < $after

-- @query goods
with moved as (
    select
        on_date, layer, from_place, to_place, cents,
        to_place in ('stock', 'piece') or to_place = 'pool' and item = 'spoilage' as comes,
        from_place in ('stock', 'piece') or from_place = 'pool' and item = 'spoilage' as goes
    from cost.trace where origin <> 'own labour'
),

crossed as (
    select
        on_date, layer, case when comes then from_place else to_place end as place,
        case when comes then cents else -cents end as cents
    from moved where comes <> goes and on_date < $after
),

first as (select min(month) as month from money.month),

-- the year that the records begin in opens with what was there
kinds as (
    select
        case when on_date < $first then 'opening'
             when place = 'setting' and month_of(on_date) = first.month then 'opening'
             when place = 'receipt' then 'bought'
             when place in ('imputed', 'setting') then 'imputed'
             when place = 'labour' then 'labour'
             when place = 'pool' then 'shop'
             when place = 'sold' and layer <> 'packaging' then 'sold'
             when place = 'own use' then 'own use'
             when place = 'waste' then 'lost'
             else 'used up' end as kind,
        cents
    from crossed
    cross join first
)

select kind, sum(case when kind = 'sold' then -cents else cents end)::bigint as cents
from kinds group by kind
union all by name
select 'closing' as kind, -coalesce(sum(cents), 0)::bigint as cents from kinds

-- @query result
select line, coalesce(sum(cents) filter (where not own_labour), 0)::bigint as cents
from money.line where month >= $first and month < $after group by line
union all by name
select 'closed months' as line, -coalesce(sum(closed_books_cents), 0)::bigint as cents
from money.month where month >= $first and month < $after
union all by name
select 'Result in the books' as line, coalesce(sum(books_result_cents), 0)::bigint as cents
from money.month where month >= $first and month < $after

-- @query months
with down as (
    select month, sum(cents)::bigint as cents
    from money.line where line = 'write-downs' and not own_labour group by month
)

select
    month, revenue_cents, refund_cents, other_income_cents, books_result_cents,
    coalesce(down.cents, 0), earlier_cents, cash_end_cents, closed
from money.month
left join down using (month)
where month >= $first and month < $after order by month

-- @query materials
with moved as (
    select on_date, item, lot, layer, unit, cents, abs(coalesce(quantity, 0)) as quantity
    from cost.movement where to_place = 'stock'
    union all by name
    select
        on_date, item, lot, layer, unit, -cents as cents, -abs(coalesce(quantity, 0)) as quantity
    from cost.movement where from_place = 'stock'
),

named as (
    select
        * exclude (layer),
        case when layer = 'offcut' then 'wood'
             when layer = 'resin waste' then 'resin'
             else layer end as category
    from moved
),

start as (
    select min(month.month) as month, any_value(shop.start) as on_date
    from money.month
    cross join settings.shop
),

-- wood is known lot by lot, all else item by item
sums as (
    select
        item, case when category = 'wood' then lot end as lot, category,
        sum(cents) filter (
            where named.on_date < $first
            or named.on_date < start.month + interval 1 month and start.month >= $first
                and named.on_date <= start.on_date
        ) as opening_cents,
        sum(cents) as closing_cents, sum(quantity) as quantity, any_value(unit) as unit
    from named
    cross join start
    where named.on_date < $after group by all
),

-- the rows of one day are one count: what lies in two places is added up
summed as (
    select
        on_date, item, lot,
        sum(quantity) / case when quantity_unit in ('each', 'kit') then 1000 else 1 end as quantity,
        quantity_unit
    from records.counts group by on_date, item, lot, quantity_unit
),

counts as (
    select
        on_date, item, lot,
        string_agg(
            format('{:.10g}', quantity) || ' ' || quantity_unit, ' + ' order by quantity_unit
        ) as counted
    from summed group by on_date, item, lot
),

opened as (
    select item, lot, arg_max(counted, on_date) as counted, max(on_date) as on_date
    from counts
    where on_date <= greatest($first, (select start from settings.shop))
    group by item, lot
),

ended as (
    select item, lot, arg_max(counted, on_date) as counted, max(on_date) as on_date
    from counts where on_date < $after group by item, lot
)

select
    sums.item, sums.lot, sums.category, coalesce(opening_cents, 0)::bigint, opened.counted,
    opened.on_date, closing_cents::bigint,
    format('{:.10g}', sums.quantity / case when sums.unit in ('each', 'kit') then 1000 else 1 end),
    sums.unit, ended.counted, ended.on_date
from sums
left join opened on opened.item = sums.item and opened.lot is not distinct from sums.lot
left join ended on ended.item = sums.item and ended.lot is not distinct from sums.lot
where coalesce(opening_cents, 0) <> 0 or closing_cents <> 0
order by sums.category, sums.item, sums.lot

-- @query pieces
with begun as (
    -- with no month before it, the year opens with what was there when the records began
    select
        'opening' as day, piece.piece, product,
        case when piece.finished <= trace.on_date then 'finished' else 'in progress' end as stage,
        piece.quantity as units,
        sum(cents)::bigint as cents
    from cost.trace join cost.piece on piece.piece = trace.piece
    where from_place = 'setting' and to_place = 'piece' and trace.on_date >= $first
        and trace.on_date < $after
        and month_of(trace.on_date) = (select min(month) from money.month)
    group by all
),

days as (
    select max(month) as month, 'closing' as day from money.month where month < $after
    union all by name
    select max(month) as month, 'opening' as day from money.month where month < $first
)

select
    days.day, held.piece, piece.product, held.stage, held.units,
    held.cost_cents - held.own_labour_cents, coalesce(down.books_written_down_cents, 0),
    held.cost_cents - held.own_labour_cents - coalesce(down.books_written_down_cents, 0)
from days
join money.held on held.month = days.month
left join cost.piece on piece.piece = held.piece
left join money.write_down as down on down.piece = held.piece and down.month = held.month
union all
select day, piece, product, stage, units, cents, 0, cents from begun
order by 1 desc, 4, 2

-- @query purchases
-- whole, though a receipt that is written up late counts in stock from the day of its first use,
-- maybe a year earlier
with paid as (
    select row_id, sum(case when from_place = 'receipt' then cents else -cents end) as cents
    from cost.movement where from_place = 'receipt' or to_place = 'receipt' group by row_id
)

select
    category, count(*), coalesce(sum(paid.cents), 0)::bigint,
    coalesce(sum(case when rule.tax_reclaimable then tax_cents else 0 end), 0)::bigint
from records.purchases
asof left join settings.rule on rule.from_date <= purchases.on_date
left join paid on paid.row_id = purchases.row_id
where purchases.on_date >= $first and purchases.on_date < $after
group by category order by category

-- @query assets
with moved as (
    select item, on_date, cents, case from_place when 'setting' then 'there' else 'in' end as way
    from cost.movement where to_place = 'asset'
    union all by name
    -- what was sent back was not bought, and did not wear
    select
        item, on_date, -cents as cents,
        case to_place when 'receipt' then 'in' when 'setting' then 'there' else 'out' end as way
    from cost.movement where from_place = 'asset'
),

machines as (
    select name, salvage_cents, months
    from settings.machine
    qualify row_number() over (partition by name order by from_date, position, row_id) = 1
),

first as (select start from settings.shop)

select
    item, min(on_date) filter (where way <> 'out'), sum(cents) filter (where way <> 'out')::bigint,
    any_value(machines.salvage_cents), any_value(machines.months),
    coalesce(sum(cents) filter (
        where on_date < $first or way = 'there' and on_date <= first.start
    ), 0)::bigint,
    coalesce(sum(cents) filter (
        where on_date >= $first and (way = 'in' or way = 'there' and on_date > first.start)
    ), 0)::bigint,
    -coalesce(sum(cents) filter (where way = 'out' and on_date >= $first), 0)::bigint,
    sum(cents)::bigint
from moved cross join first
left join machines on machines.name = moved.item
where on_date < $after
group by item order by item

-- @query write-downs
select
    piece, product, stage, units, books_cost_cents, expected_cents, price_basis, selling_share,
    worth_cents, books_written_down_cents
from money.write_down
where month = (select max(month) from money.month where month < $after)
    and books_written_down_cents > 0
order by piece

-- @query tax
with bought as (
    select month_of(on_date) as month, sum(tax_cents) as cents
    from records.purchases asof join settings.rule on rule.from_date <= purchases.on_date
    where rule.tax_reclaimable
    group by all
),

paid as (
    select month_of(on_date) as month, sum(amount_cents) as cents
    from records.payments where kind = 'tax' group by all
)

select
    month.month, tax_cents, channel_tax_cents, coalesce(bought.cents, 0)::bigint,
    coalesce(paid.cents, 0)::bigint, tax_owed_cents
from money.month
left join bought on bought.month = month.month
left join paid on paid.month = month.month
where month.month >= $first and month.month < $after order by month.month

-- @query cash
select line, sum(cents)::bigint
from money.cash_month
where month >= $first and month < $after
group by line, line_number
order by line_number
