-- One row per sale row, piece and month with what it brought and cost, and what it is grouped by.
-- Cost that arises later (a slab closed, fees of an event) counts in the month in which it arises.
-- Packaging belongs to the channel of the piece's first sale. `seconds` is the labour in the units
-- sold.
with parts as (select * from money._sale_part),

first_part as (
    select row_id, piece, month from parts
    qualify row_number() over (partition by row_id order by piece nulls last) = 1
),

first_sale as (
    select piece, row_id from parts where piece is not null and units > 0
    qualify row_number() over (partition by piece order by on_date, day_turn, row_id) = 1
),

worked as (
    select piece, sum(quantity) as seconds from cost.movement
    where layer = 'labour' and to_place = 'piece'
        and from_place in ('labour', 'imputed') group by piece
),

brought as (
    select
        parts.row_id, parts.piece, parts.month, parts.units, parts.revenue_cents,
        case when parts.units < 0 then -cut(coalesce(worked.seconds, 0), -parts.units, piece.units)
             else cut(coalesce(worked.seconds, 0), parts.units, piece.units) end as seconds
    from parts
    left join work.piece on piece.piece = parts.piece
    left join worked on worked.piece = parts.piece
),

lines as (
    select
        coalesce(sale.row_id, first_sale.row_id) as row_id,
        coalesce(line.piece, first_part.piece) as piece, line.month, line.line, line.own_labour,
        case when known.cost_group = 'labour' then 'labour'
             when known.cost_group in ('machine', 'overhead') then 'overhead'
             else 'material' end as kind,
        line.cents
    from money._line_sum as line
    left join settings.layer as known on known.layer = line.layer
    left join money._sale as sale on sale.row_id = line.row_id
    left join first_part on first_part.row_id = line.row_id
    left join first_sale on first_sale.piece = line.piece
    where line.place = 'sold'
),

costs as (
    select
        row_id, piece, month,
        -sum(cents) filter (where line = 'cost of sales') as cost_of_sales_cents,
        -sum(cents) filter (where line = 'cost of sales' and kind = 'labour') as labour_cents,
        -sum(cents) filter (where own_labour) as own_labour_cents,
        -sum(cents) filter (where line = 'cost of sales' and kind = 'overhead') as overhead_cents,
        -sum(cents) filter (where line = 'cost of sales' and kind = 'material') as material_cents,
        -sum(cents) filter (where line = 'selling') as selling_cents
    from lines
    group by row_id, piece, month
),

entries as (from brought union all by name from costs),

summed as (
    select
        row_id, piece, month,
        cast(coalesce(sum(columns('(units|seconds|.*_cents)')), 0) as bigint) as "\1"
    from entries group by row_id, piece, month
)

select
    summed.row_id, summed.piece, summed.month,
    coalesce(piece.product, sale.product, 'not stated') as product,
    coalesce(piece.species, 'not stated') as species,
    coalesce(piece.finish, 'not stated') as finish, coalesce(sale.channel, 'not stated') as channel,
    coalesce(sale.order_no, piece.order_no) as order_no, sale.event, summed.units,
    summed.revenue_cents, seconds, cost_of_sales_cents, labour_cents, own_labour_cents,
    overhead_cents, material_cents, selling_cents
from summed
left join money._sale as sale on sale.row_id = summed.row_id
left join work.piece on piece.piece = summed.piece
