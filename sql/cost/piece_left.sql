-- One row per piece, event at which units of it left or came back, day, layer and origin: the cents
-- that went along; of materials one an item, of labour one a rate that paid for it. Cents that came
-- back with what left, such as a credit on it, have a row of their own.
-- @check cents > 0
-- @check from_place <> to_place
select
    on_date, row_id, case when cost_group = 'labour' then paid_row_id end as paid_row_id,
    case when cents < 0 then place else 'piece' end as from_place,
    case when cents < 0 then 'piece' else place end as to_place,
    piece_out.layer, origin, piece,
    case when place = 'pool' or cost_group not in ('labour', 'machine', 'overhead')
         then item end as item, rework, cast(sum(abs(cents)) as bigint) as cents
from cost._piece_out as piece_out
left join settings.layer as known on known.layer = piece_out.layer
where cents <> 0
group by all
