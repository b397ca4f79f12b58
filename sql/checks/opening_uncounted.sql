-- Something was bought before the records begin, and no count says how much of it was there then:
-- all that no record took from it counts as stock. Count it as of that day, with what it was worth.
-- @severity warning
select
    lot.item, count(*) as receipts, min(lot.bought_on) as first_on, any_value(shop.start) as start,
    sum(lot.landed_cents) as cents
from cost.lot
join work.lot as lots on lots.lot_id = lot.lot_id
cross join settings.shop
where lots.uncounted
group by lot.item
