-- A purchase whose unit can't be turned into the one that its item is kept in: state a density or a
-- kit size in shop.toml.
-- @severity warning
select
    lots.item, any_value(lots.unit) as unit, count(*) as lots,
    cast(sum(lot.on_hand_cents) as bigint) as cost_cents
from work.lot as lots
join cost.lot on lot.lot_id = lots.lot_id
where lots.flow like 'unmeasured/%'
group by lots.item
