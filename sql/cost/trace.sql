-- One row per movement of cents: on this day, because of this record, paid for by that one, from
-- one place to another. The one table that carries every cost. A place's balance on any day is what
-- came in less what went out; over all places it is zero. Cents are never negative: what goes back
-- is a movement the other way.
-- Each cost is stored once, where it goes into a piece; what leaves the piece is cut from it here.
-- What only asks for sums reads cost.moved, where that is done.
-- @view
select * from cost.movement
union all by name
select * from cost._pool_given
union all by name
select
    on_date, row_id, paid_row_id,
    case when cents < 0 then place else 'piece' end as from_place,
    case when cents < 0 then 'piece' else place end as to_place,
    layer, origin, operation, piece, lot, item, cast(abs(cents) as bigint) as cents, rework,
    assumed
    or row_id in (select row_id from work.open_row)
    or paid_row_id in (select row_id from work.open_row) as assumed,
    estimated
from cost._piece_out
where cents <> 0
