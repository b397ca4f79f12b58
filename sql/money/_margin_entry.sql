-- One row per sale row, piece and month with what it brought and cost, and what it is grouped by.
-- Cost that arises later (a slab closed, fees of an event) counts in the month in which it arises. Packaging belongs to the
-- channel of the piece's first sale. `seconds` is the labour in the units sold.
with parts as (select * from money._sale_part),

first_part as (select row_id, piece, month from parts qualify row_number() over (partition by row_id order by piece nulls last) = 1),

first_sale as (select piece, row_id from parts where piece is not null and units > 0 qualify row_number() over (partition by piece order by on_date, row_id) = 1),

worked as (
    select trace.piece, sum(trace.quantity) as seconds from cost.trace
    where trace.layer = 'labour' and trace.to_place = 'piece' and trace.from_place in ('labour', 'imputed') group by trace.piece
),

brought as (
    select
        parts.row_id, parts.piece, parts.month, parts.units, parts.revenue_cents,
        case when parts.units < 0 then -cut(coalesce(worked.seconds, 0), -parts.units, piece.units) else cut(coalesce(worked.seconds, 0), parts.units, piece.units) end as seconds
    from parts
    left join work.piece on piece.piece = parts.piece
    left join worked on worked.piece = parts.piece
),

costs as (
    select
        coalesce(sale.row_id, first_sale.row_id) as row_id, coalesce(line.piece, first_part.piece) as piece, line.month,
        -sum(cents) filter (where line = 'cost of sales') as cost_of_sales_cents,
        -sum(cents) filter (where line = 'cost of sales' and layer = 'labour') as labour_cents,
        -sum(cents) filter (where own_labour) as own_labour_cents,
        -sum(cents) filter (where line = 'cost of sales' and layer in ('machine', 'overhead')) as overhead_cents,
        -sum(cents) filter (where line = 'cost of sales' and layer not in ('labour', 'machine', 'overhead')) as material_cents,
        -sum(cents) filter (where line = 'selling') as selling_cents
    from money._plain_line as line
    left join money._sale as sale on sale.row_id = line.row_id
    left join first_part on first_part.row_id = line.row_id
    left join first_sale on first_sale.piece = line.piece
    where line.place = 'sold'
    group by all
),

entries as (
    select row_id, piece, month, units, revenue_cents, seconds, 0 as cost_of_sales_cents, 0 as labour_cents, 0 as own_labour_cents, 0 as overhead_cents, 0 as material_cents, 0 as selling_cents
    from brought
    union all
    select row_id, piece, month, 0, 0, 0, coalesce(cost_of_sales_cents, 0), coalesce(labour_cents, 0), coalesce(own_labour_cents, 0), coalesce(overhead_cents, 0),
        coalesce(material_cents, 0), coalesce(selling_cents, 0)
    from costs
),

summed as (
    select
        row_id, piece, month, sum(units) as units, sum(revenue_cents) as revenue_cents, sum(seconds) as seconds, sum(cost_of_sales_cents) as cost_of_sales_cents,
        sum(labour_cents) as labour_cents, sum(own_labour_cents) as own_labour_cents, sum(overhead_cents) as overhead_cents,
        sum(material_cents) as material_cents, sum(selling_cents) as selling_cents
    from entries group by row_id, piece, month
)

select
    summed.row_id, summed.piece, summed.month, coalesce(piece.product, sale.product, 'not stated') as product, coalesce(piece.species, 'not stated') as species,
    coalesce(piece.finish, 'not stated') as finish, coalesce(sale.channel, 'not stated') as channel, coalesce(sale.order_no, piece.order_no) as order_no, sale.event,
    cast(summed.units as bigint) as units, cast(summed.revenue_cents as bigint) as revenue_cents, cast(seconds as bigint) as seconds,
    cast(cost_of_sales_cents as bigint) as cost_of_sales_cents, cast(labour_cents as bigint) as labour_cents, cast(own_labour_cents as bigint) as own_labour_cents,
    cast(overhead_cents as bigint) as overhead_cents, cast(material_cents as bigint) as material_cents, cast(selling_cents as bigint) as selling_cents
from summed
left join money._sale as sale on sale.row_id = summed.row_id
left join work.piece on piece.piece = summed.piece
