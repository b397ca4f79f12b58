-- One row per place and movement: what came into the place from the other one, below zero what left
-- it for there, as cost.moved has them. Over all places cents come to zero.
-- @view
select to_place as place, from_place as other_place, moved.* exclude (from_place, to_place)
from cost.moved
union all by name
select
    from_place as place, to_place as other_place,
    moved.* exclude (from_place, to_place) replace (-cents as cents, -quantity as quantity)
from cost.moved
