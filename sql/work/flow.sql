-- One row per part of a lot that a draw took; from and to are positions in the lot. What a count
-- found again is a part of its lot too, that went back: its ends stand the other way round.
-- Supplies and draws of a flow are laid end to end; where their breakpoints cut the line, each
-- stretch has one lot and one draw. Lots that the records lack have negative ids: minus the draw's
-- for what was missing, and for what a count found minus that of the draw which it would be had it
-- found less (`draw_id` in `sql/macros.sql`).
-- @key lot_id, use_id, from_quantity
-- @check to_quantity <> from_quantity
with supplies as (
    -- what was there at the start lies before what was bought that day
    select
        ledger.flow, ledger.ref as lot_id, ledger.on_date, ledger.day_turn, ledger.quantity,
        case when lot.opening then -1 else 0 end as turn
    from work._ledger as ledger
    join work.lot on lot.lot_id = ledger.ref
    where ledger.kind = 'supply'
    union all by name
    select
        flow, -ref as lot_id, turn_on as on_date, on_date as draw_on, day_turn, quantity, 1 as turn
    from work.missing
    union all by name
    select flow, -short_id(row_id, flow) as lot_id, on_date, beyond as quantity, 2 as turn
    from work.found where beyond > 0
),

supply_ends as (
    select
        flow, lot_id, quantity,
        sum(quantity) over (
            partition by flow order by on_date, turn, draw_on, day_turn, lot_id
            rows unbounded preceding
        ) as at_quantity
    from supplies
),

draw_ends as (
    select flow, use_id, to_supplied as at_quantity
    from work._taken where to_supplied > from_supplied
),

breaks as (
    select flow, at_quantity, lot_id, quantity as lot_quantity from supply_ends
    union all by name
    select flow, at_quantity, use_id from draw_ends
),

points as (
    select
        flow, at_quantity, max(lot_id) as lot_id, max(lot_quantity) as lot_quantity,
        max(use_id) as use_id, max(case when lot_id is not null then at_quantity end) as lot_end
    from breaks group by flow, at_quantity
),

stretches as (
    -- a stretch ends at its point and belongs to the next lot and draw that end there or later
    select
        flow, at_quantity,
        coalesce(lag(at_quantity) over (partition by flow order by at_quantity), 0) as from_at,
        first_value(lot_id ignore nulls) over rest as lot_id,
        first_value(use_id ignore nulls) over rest as use_id,
        first_value(lot_end ignore nulls) over rest as lot_end,
        first_value(lot_quantity ignore nulls) over rest as lot_quantity
    from points
    window rest as (
        partition by flow order by at_quantity rows between current row and unbounded following
    )
),

taken as (
    select
        flow, lot_id, use_id, from_at - (lot_end - lot_quantity) as from_quantity,
        at_quantity - (lot_end - lot_quantity) as to_quantity
    from stretches where lot_id is not null and use_id is not null
),

again as (
    select
        again.flow, again.use_id, again.back, lots.lot_id,
        lots.at_quantity - lots.quantity as lot_from,
        greatest(again.from_supplied, lot_from) - lot_from as from_quantity,
        least(again.to_supplied, lots.at_quantity) - lot_from as to_quantity
    from work._again as again
    join supply_ends as lots
        on lots.flow = again.flow and lots.at_quantity > again.from_supplied
        and lots.at_quantity - lots.quantity < again.to_supplied
),

parts as (
    select flow, lot_id, use_id, from_quantity, to_quantity from taken
    union all by name
    select
        flow, lot_id, use_id,
        case when back then to_quantity else from_quantity end as from_quantity,
        case when back then from_quantity else to_quantity end as to_quantity
    from again
),

reserved as (
    select lot_id, sum(to_quantity - from_quantity) as quantity from work._named group by lot_id
)

select
    parts.flow, parts.lot_id, parts.use_id,
    cast(parts.from_quantity + coalesce(reserved.quantity, 0) as bigint) as from_quantity,
    cast(parts.to_quantity + coalesce(reserved.quantity, 0) as bigint) as to_quantity,
    false as reserved
from parts
left join reserved on reserved.lot_id = parts.lot_id
union all by name
select
    flow, lot_id, use_id, from_quantity, from_quantity + quantity as to_quantity, true as reserved
from work.settled where spread
union all by name
select
    use.flow, named.lot_id, named.use_id, named.from_quantity, named.to_quantity, true as reserved
from work._named as named
join work.use on use.use_id = named.use_id
