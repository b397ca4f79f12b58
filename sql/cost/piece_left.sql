-- One row per piece, event at which units of it left or came back, day, layer and origin: the cents
-- that went along. Cents that came back with what left, such as a credit on it, have a row of their
-- own.
-- @check cents > 0
-- @check from_place <> to_place
select
    on_date, row_id, case when cents < 0 then place else 'piece' end as from_place,
    case when cents < 0 then 'piece' else place end as to_place,
    layer, origin, piece, case when place = 'pool' then item end as item, rework,
    cast(sum(abs(cents)) as bigint) as cents
from cost._piece_out
where cents <> 0
group by all
