-- One row per lot with its cost, those that the records lack included.
-- What is missing is valued at the item's last earlier unit cost, else the next one; with none it
-- costs nothing, which the check `price_unknown` tells. Goods sent back lower the cost of their
-- lot.
-- @key lot_id
with returned as (
    select lot_id, sum(cents) as cents
    from (
        select lot_id, cents from cost._sent_back where lot_id is not null
        union all by name
        select lot_id, -cents as cents from cost._emptied
    )
    group by lot_id
),

priced as (
    select
        lot.lot_id, lot.lot_id as paid_row_id, lot.flow, lot.item, lot.lot, lot.category,
        lot.on_date, lot.day_turn, lot.opening, lot.uncounted, lot.quantity, lot.unit,
        case when lot.opening then opening.worth_cents
             when lot.saved_from is not null then salvage.cents
             else landed.cents end + coalesce(returned.cents, 0) as cents,
        false as imputed
    from work.lot
    left join cost._landed as landed
        on landed.row_id = lot.lot_id and not lot.opening and lot.saved_from is null
    left join cost._salvage as salvage on salvage.lot_id = lot.lot_id
    left join records.counts as opening on opening.row_id = lot.lot_id and lot.opening
    left join returned on returned.lot_id = lot.lot_id
),

lacking as (
    select -ref as lot_id, flow, on_date, quantity from work.missing
    union all by name
    select -short_id(row_id, flow) as lot_id, flow, on_date, beyond as quantity
    from work.found where beyond > 0
),

known as (select * from priced where cents > 0 and quantity > 0),

-- of several lots of a day the last one bought, looking back, and the first, looking ahead
last_known as (
    select flow, on_date, max_by(lot_id, day_turn) as lot_id
    from known group by flow, on_date
),

first_known as (
    select flow, on_date, min_by(lot_id, day_turn) as lot_id
    from known group by flow, on_date
),

nearest as (
    select lacking.*, earlier.lot_id as earlier_id, later.lot_id as later_id
    from lacking
    asof left join last_known as earlier
        on earlier.flow = lacking.flow and earlier.on_date <= lacking.on_date
    asof left join first_known as later
        on later.flow = lacking.flow and later.on_date > lacking.on_date
)

select * exclude (opening) from priced
union all by name
select
    nearest.lot_id, model.paid_row_id, nearest.flow, coalesce(model.item, item_of(nearest.flow)) as item,
    coalesce(model.category, item.category, 'consumable') as category,
    nearest.on_date, nearest.quantity, coalesce(model.unit, item.unit) as unit,
    coalesce(cut(nearest.quantity, model.cents, model.quantity), 0) as cents, true as imputed
from nearest
left join known as model on model.lot_id = coalesce(nearest.earlier_id, nearest.later_id)
left join work.item on item.item = item_of(nearest.flow)
