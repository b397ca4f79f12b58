-- One row per lot with something left, those that only a count knows of included (their ids are negative, as in `work.flow`).
-- Of a slab that went back whole a cubic millimetre is left, so that its lot can be divided by: that is nothing.
-- @key lot_id
with found as (
    select -4096 * row_id - 2 as lot_id, row_id, flow, on_date, found as quantity from work.counted where found > 0
),

drawn as (select lot_id, sum(to_quantity - from_quantity) as quantity from work.flow where lot_id < 0 group by lot_id),

worth as (select row_id, sum(cents) as cents from cost.trace where from_place = 'imputed' and to_place = 'stock' group by row_id)

select
    lot.lot_id, lot.lot, lot.item, lot.category, lots.flow, lot.species, lot.supplier, lot.form, lot.bought_on, lot.expires_on, lot.bought, lot.used, lot.on_hand, lot.unit, lot.on_hand_cents,
    false as found
from cost.lot
join work.lot as lots on lots.lot_id = lot.lot_id
where lot.on_hand > 0 and (lot.category <> 'wood' or lot.bought > 1 or lot.landed_cents > 0)
union all
select
    found.lot_id, null, item.item, item.category, found.flow, null, null, null, found.on_date, null, found.quantity, coalesce(drawn.quantity, 0), found.quantity - coalesce(drawn.quantity, 0), item.unit,
    coalesce(worth.cents - cut(worth.cents, coalesce(drawn.quantity, 0), found.quantity), 0), true
from found
join work.item on item.item = found.flow
left join drawn on drawn.lot_id = found.lot_id
left join worth on worth.row_id = found.row_id
where found.quantity > coalesce(drawn.quantity, 0)
