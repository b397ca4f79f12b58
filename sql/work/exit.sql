-- One row per event at which units of a piece leave, or come back, with the units out after it.
-- Scrapped and test pieces go to the pool of spoilage, which is settled at the month's end. A
-- return brings units back; where it goes on to scrap or to the maker, a second row takes them out
-- again. A test piece for an order waits until a piece of the order that can take its cost is
-- begun, or the order is cancelled.
-- @key piece, number
-- @check units_out >= 0
with sold as (
    select
        sale_piece.piece, sale_piece.row_id, sale_piece.on_date, sale_piece.units,
        case when sale_piece.units < 0 then 'return' else 'sale' end as kind,
        'sold' as place, sale_piece.assumed, sales.returned_to, sale_turn.day_turn
    from work.sale_piece
    join records.sales on sales.row_id = sale_piece.row_id
    join work.sale_turn on sale_turn.row_id = sale_piece.row_id
),

gone_on as (
    select
        piece, row_id, on_date, -units as units,
        case returned_to when 'scrap' then 'scrapped' else returned_to end as kind,
        case returned_to when 'scrap' then 'pool' else 'own use' end as place, assumed, day_turn
    from sold where units < 0 and returned_to in ('scrap', 'kept')
),

scrapped as (
    -- what is scrapped of a test is a test too
    select
        found.piece, found.row_id, found.on_date, found.quantity as units,
        case when piece.status = 'test' then 'test' else 'scrapped' end as kind, 'pool' as place,
        false as assumed, found.defect, found.found_at
    from records.inspections as found
    left join work.piece on piece.piece = found.piece
    where found.action = 'scrap' and found.quantity is not null and found.piece is not null
),

some_gone as (
    select
        piece, row_id, on_date, units, kind, place, assumed, day_turn,
        case kind when 'return' then 1 else 2 end as turn
    from sold
    union all by name
    select *, 3 as turn from gone_on
    union all by name
    select *, 3 as turn from scrapped
),

-- a piece that was scrapped or lost in an earlier month takes nothing any more
awaited as (
    select test.piece, min(greatest(heir.started_on, test.ended_on)) as on_date
    from work.piece as test
    join work.piece as heir
        on heir.order_no = test.order_no and heir.status <> 'test'
        and (
            heir.status not in ('scrapped', 'lost')
            or month_of(heir.ended_on) >= month_of(greatest(heir.started_on, test.ended_on))
        )
    where test.status = 'test'
    group by test.piece
),

leaving as (
    select
        piece.*,
        case when piece.status <> 'test' or piece.order_no is null then piece.ended_on
             when awaited.piece is not null or orders.cancelled is not null
             then greatest(piece.ended_on, least(awaited.on_date, orders.cancelled)) end as left_on
    from work.piece
    left join awaited on awaited.piece = piece.piece
    left join records.orders on orders.order_no = piece.order_no
),

ended as (
    select
        piece.piece, piece.row_id, piece.left_on as on_date,
        piece.units - coalesce((
            select sum(some_gone.units) from some_gone
            where some_gone.piece = piece.piece and some_gone.on_date <= piece.left_on
        ), 0) as units,
        piece.status as kind,
        case piece.status
             when 'gift' then 'period'
             when 'kept' then 'own use'
             when 'lost' then 'waste'
             else 'pool' end as place,
        false as assumed, 4 as turn
    from leaving as piece
    where piece.left_on is not null
),

events as (
    select * from some_gone
    union all by name
    select * from ended where units > 0
),

numbered as (
    select
        events.*, piece.units as all_units,
        row_number() over in_turn as number, sum(events.units) over in_turn as running
    from events
    join work.piece on piece.piece = events.piece
    window in_turn as (
        partition by events.piece
        order by
            events.on_date, events.turn, events.day_turn nulls first, events.defect,
            events.found_at, events.units, events.row_id
    )
)

select
    piece, cast(number as bigint) as number, row_id, on_date, kind, place, assumed,
    all_units as units,
    cast(greatest(0, least(running, all_units)) as bigint) as units_out,
    cast(greatest(0, least(coalesce(
        lag(running) over (partition by piece order by number), 0
    ), all_units)) as bigint) as units_out_before
from numbered
