-- A purchase whose unit can't be turned into the one that its item is kept in: state a density or a kit size in shop.toml.
-- @severity warning
select lot.item, lot.unit, count(*) as lots from work.lot
where lot.bought_quantity is null and lot.category in ('resin', 'finish', 'colourant')
group by lot.item, lot.unit
