-- One row per kind of stock with what it costs today: the unit cost of its last receipt. Wood goes by species.
-- `cents` buy `quantity` of the unit.
-- @key flow
with lots as (
    select lot.lot_id, work_lot.flow, lot.category, lot.bought_on, lot.landed_cents, lot.bought, lot.unit
    from cost.lot
    join work.lot as work_lot on work_lot.lot_id = lot.lot_id
    where lot.landed_cents > 0 and lot.bought > 0
)

select flow, category, unit, bought_on as from_date, lot_id as row_id, landed_cents as cents, bought as quantity
from lots
qualify row_number() over (partition by flow order by bought_on desc, lot_id desc) = 1
