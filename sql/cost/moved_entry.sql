-- One row per place and movement: what came into the place from the other one, below zero what left
-- it for there, as cost.moved has them. Over all places cents come to zero.
-- @view
select
    case when ends.coming then to_place else from_place end as place,
    case when ends.coming then from_place else to_place end as other_place,
    moved.* exclude (from_place, to_place) replace (
        case when ends.coming then cents else -cents end as cents,
        case when ends.coming then quantity else -quantity end as quantity
    )
from cost.moved
cross join (select unnest([true, false]) as coming) as ends
