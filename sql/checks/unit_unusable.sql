-- Something bought or used in a unit that can't be turned into the one that its item is kept in: it
-- costs no piece anything until a density or the size of a kit is stated in shop.toml.
-- @severity warning
select
    lots.item, any_value(lots.unit) as unit, count(*) as lots, 0 as uses,
    cast(sum(lot.on_hand_cents) as bigint) as cost_cents
from work.lot as lots
join cost.lot on lot.lot_id = lots.lot_id
where lots.flow like 'unmeasured/%'
group by lots.item
union all by name
select item, min(unit) as unit, 0 as lots, count(*) as uses
from work.unmeasured group by item
