-- One row per part of the supplies that was lost and found again, by the draw that takes it then,
-- or by the count that put it back (`back`).
-- What was lost may itself have been lost and found before: each step looks up where a part lay
-- when it was lost, and ends where that was among the supplies.
-- @key use_id, from_supplied
with recursive lost as (
    select found.to_lost - found.lost as from_lost, taken.*
    from work.found
    join work._taken as taken on taken.use_id = short_id(found.row_id, found.flow)
    where found.lost > 0
),

places as (
    select
        flow, from_lost, from_lost + to_again - from_again as to_lost, from_again as from_at,
        false as supplied
    from lost where to_again > from_again
    union all by name
    select
        flow, from_lost + to_again - from_again as from_lost,
        from_lost + to_again - from_again + to_supplied - from_supplied as to_lost,
        from_supplied as from_at, true as supplied
    from lost where to_supplied > from_supplied
),

sought as (
    select flow, use_id, false as back, from_again as from_at, to_again as to_at
    from work._taken where to_again > from_again
    union all by name
    select
        flow, again_id(row_id, flow) as use_id, true as back, to_again - again as from_at,
        to_again as to_at
    from work.found where again > 0
),

steps as (
    select flow, use_id, back, from_at, to_at, false as supplied from sought
    union all
    select
        steps.flow, steps.use_id, steps.back,
        places.from_at + greatest(steps.from_at - places.from_lost, 0),
        places.from_at + least(steps.to_at, places.to_lost) - places.from_lost, places.supplied
    from steps
    join places
        on places.flow = steps.flow and places.from_lost < steps.to_at
        and places.to_lost > steps.from_at
    where not steps.supplied
)

select flow, use_id, back, from_at as from_supplied, to_at as to_supplied
from steps where supplied
