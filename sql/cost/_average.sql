-- One row per draw that is valued at the moving average of its item: under the rule `cost_flow =
-- "average"` alone, and not for wood, nor for draws that name a lot.
-- The running average hangs on every step before it, so this one model steps through time: all
-- items at once, in whole numbers (quantity and cents in the pool), one event a step. What a count
-- settles before its purchase takes effect on several days; a lot that the records lack enters just
-- before its draw. What counts booked as lost is kept apart, as one sum of quantity and cents: what
-- is found again comes back from it.
-- @key use_id, on_date
with recursive taken as (
    select draw.* from cost._draw as draw
    join work.item on item.item = item_of(draw.flow) and item.category <> 'wood'
    cross join settings.shop
    where shop.cost_flow = 'average' and not draw.reserved
),

reserved as (
    select lot_id, sum(quantity) as quantity, sum(cents) as cents
    from cost._draw where reserved group by lot_id
),

lots as (
    select *, imputed and -lot_id in (select use_id from taken) as for_a_draw
    from cost._lot
    -- a line of no quantity has nothing to draw from: what it cost stays with it, under this rule
    -- as under the other
    where flow in (select flow from taken) and quantity > 0
),

supplies as (
    select
        lot.flow,
        least(
            lot.on_date,
            coalesce(
                (select min(taken.on_date) from taken where taken.lot_id = lot.lot_id), lot.on_date
            )
        ) as on_date,
        case when lot.for_a_draw then 1 when lot.imputed then 2 else 0 end as turn,
        case when not lot.for_a_draw then lot.on_date end as bought_on,
        coalesce(use.day_turn, lot.day_turn) as day_turn,
        case when lot.for_a_draw then -lot.lot_id else lot.lot_id end as ref,
        0 as step, 'supply' as kind,
        lot.quantity - coalesce(reserved.quantity, 0) as quantity,
        lot.cents - coalesce(reserved.cents, 0) as cents
    from lots as lot
    left join reserved on reserved.lot_id = lot.lot_id
    left join work.use on lot.for_a_draw and use.use_id = -lot.lot_id
),

draws as (
    select
        taken.flow, taken.on_date, 1 as turn, min(use.day_turn) as day_turn, taken.use_id as ref,
        1 as step,
        case when sum(taken.quantity) < 0 then 'again'
             when bool_or(found.lost > 0) then 'lost'
             else 'used' end as kind,
        -sum(taken.quantity) as quantity, 0 as cents
    from taken
    left join work.use on use.use_id = taken.use_id
    left join work.found on short_id(found.row_id, found.flow) = taken.use_id
    group by taken.flow, taken.use_id, taken.on_date
),

events as (
    select
        *, row_number() over (
            partition by flow
            order by on_date, turn, bought_on, day_turn, kind = 'lost', ref, step
        ) as number
    from (select * from supplies union all by name select * from draws)
),

steps as (
    select
        flow, cast(0 as bigint) as number, cast(null as bigint) as use_id,
        cast(null as date) as on_date, cast(0 as bigint) as drawn_cents,
        cast(0 as hugeint) as quantity, cast(0 as hugeint) as cents,
        cast(0 as hugeint) as lost_quantity, cast(0 as hugeint) as lost_cents
    from events group by flow
    union all
    select
        events.flow, events.number, case when events.step = 1 then events.ref end,
        case when events.step = 1 then events.on_date end,
        case events.kind
            when 'supply' then 0
            when 'again' then -cut(steps.lost_cents, events.quantity, steps.lost_quantity)
            else cut(steps.cents, -events.quantity, steps.quantity) end as drawn,
        steps.quantity + events.quantity, steps.cents + events.cents - drawn,
        steps.lost_quantity
            - case when events.kind in ('lost', 'again') then events.quantity else 0 end,
        steps.lost_cents + case when events.kind in ('lost', 'again') then drawn else 0 end
    from steps
    join events on events.flow = steps.flow and events.number = steps.number + 1
)

select use_id, on_date, drawn_cents as cents from steps where use_id is not null
