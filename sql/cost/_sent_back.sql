-- One row per line of goods sent back and lot that it comes off (or none), with what came back for
-- it: cents go by quantity.
-- @key row_id, lot_id
with parts as (select *, sum(amount) over (partition by row_id) as all_amount from work.sent_back)

select
    parts.row_id, parts.lot_id, landed.on_date, parts.amount,
    cast(case
        when all_amount = 0 then landed.cents
        else share(landed.cents, to_amount - amount, to_amount, all_amount) end as bigint) as cents
from parts
join cost._landed as landed on landed.row_id = parts.row_id
