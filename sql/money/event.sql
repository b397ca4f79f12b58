-- One row per market or fair: what it took, sold, cost, brought back, and what an hour of the
-- owners' there paid.
-- Cost of sales and fees are those of its sales, whenever they arose. What was taken along is known
-- only from moves: of each piece the units that were left on the first day it went there.
-- @key event
-- @check result_cents = taken_cents - cost_of_sales_cents - selling_cents - labour_cents
with events as (
    select upper(replace(name, ' ', '')) as event, min(day) as on_date
    from settings.event group by all
),

named as (
    select event from events
    union select event from records.sales where event is not null
    union select event from records.purchases where event is not null
    union select event from records.hours where event is not null
),

sales as (
    select
        event, min(on_date) as on_date, count(*) filter (where units <> 0) as sales,
        sum(revenue_cents) as taken_cents,
        sum(units) filter (where units > 0) as units,
        -sum(units) filter (where units < 0) as returned_units
    from money._sale where event is not null group by event
),

margins as (
    select
        event, sum(cost_of_sales_cents) as cost_of_sales_cents, sum(selling_cents) as selling_cents,
        sum(own_labour_cents) as own_labour_cents
    from money._margin_entry where event is not null group by event
),

-- a booth's fee comes in by a pool; of an event without a sale it goes out into its month. Where
-- nothing was sold and nobody logged the day, its receipt is all that tells of it
booths as (
    select
        item as event, min(on_date) as on_date, sum(cents) filter (where to_place = 'pool') as cents,
        sum(cents) filter (where from_place = 'pool' and to_place = 'period') as unsold_cents
    from cost.movement where layer = 'selling' and 'pool' in (from_place, to_place) group by item
),

owners as (select distinct name from settings.person_rate where role in ('owner', 'partner')),

owner_rates as (select row_id from settings.person_rate where role in ('owner', 'partner')),

worked as (
    select
        hours.event, min(hours.on_date) as on_date, sum(hours.seconds) as seconds,
        sum(hours.seconds) filter (
            where owners.name is not null or hours.person is null
        ) as owner_seconds
    from work.hours
    left join owners on owners.name = hours.person
    where hours.event is not null and hours.attended group by hours.event
),

paid as (
    select
        hours.event, sum(movement.cents) as cents,
        sum(movement.cents) filter (where movement.origin = 'own labour') as own_cents,
        sum(movement.cents) filter (where movement.paid_row_id in (from owner_rates)) as owner_cents
    from cost.movement
    join work.hours on hours.row_id = movement.row_id and hours.event is not null
    where movement.from_place = 'labour' and movement.to_place = 'period' group by hours.event
),

moved as (
    select
        upper(replace(moves.place, ' ', '')) as event, bridge.piece, min(moves.on_date) as on_date
    from records.moves
    join records.moves_piece as bridge on bridge.row_id = moves.row_id
    where moves.place is not null
    group by all
),

out_by_day as (
    select piece, on_date, arg_max(units_out, number) as units_out
    from work.exit group by piece, on_date
),

taken_along as (
    select moved.event, sum(piece.units - coalesce(gone.units_out, 0)) as units
    from moved
    join work.piece on piece.piece = moved.piece
    asof left join out_by_day as gone on gone.piece = moved.piece and gone.on_date < moved.on_date
    group by moved.event
),

summed as (
    select
        named.event, coalesce(events.on_date, sales.on_date, worked.on_date, booths.on_date) as on_date,
        coalesce(sales.taken_cents, 0) as taken_cents, coalesce(sales.units, 0) as units,
        coalesce(sales.sales, 0) as sales, taken_along.units as taken_along,
        -- greatest passes over a null: of what nobody logged as taken along nothing is known to
        -- have come back
        case when taken_along.units is not null
             then greatest(0, taken_along.units - coalesce(sales.units, 0)) end as brought_back,
        coalesce(sales.returned_units, 0) as returned_units,
        coalesce(booths.cents, 0) as booth_cents,
        coalesce(margins.selling_cents, 0) + coalesce(booths.unsold_cents, 0) as selling_cents,
        coalesce(margins.cost_of_sales_cents, 0) as cost_of_sales_cents,
        coalesce(paid.cents, 0) as labour_cents, coalesce(paid.owner_cents, 0) as owner_cents,
        coalesce(margins.own_labour_cents, 0) + coalesce(paid.own_cents, 0) as own_labour_cents,
        coalesce(worked.seconds, 0) as seconds, coalesce(worked.owner_seconds, 0) as owner_seconds
    from named
    left join events on events.event = named.event
    left join sales on sales.event = named.event
    left join margins on margins.event = named.event
    left join booths on booths.event = named.event
    left join worked on worked.event = named.event
    left join paid on paid.event = named.event
    left join taken_along on taken_along.event = named.event
),

whole as (
    select event, on_date, cast(columns(* exclude (event, on_date)) as bigint)
    from summed where on_date is not null
),

results as (
    select *, taken_cents - cost_of_sales_cents - selling_cents - labour_cents as result_cents
    from whole
)

select
    event, on_date, taken_cents, units, sales, taken_along, brought_back, returned_units,
    booth_cents, selling_cents, cost_of_sales_cents, labour_cents, result_cents,
    result_cents + own_labour_cents as books_result_cents, seconds / 3600 as hours,
    owner_seconds / 3600 as owner_hours,
    -- the owners' own labour in the goods stays a cost: this is what an hour of the day paid, not
    -- one at the bench; it takes one hour
    for_an_hour(result_cents + owner_cents, owner_seconds, 'a market day') as pay_per_hour_cents
from results
