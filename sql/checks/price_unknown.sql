-- Something was used that no receipt gives a price for: it counts as free until one turns up.
-- @severity warning
select missing.flow as item, min(missing.on_date) as first_on, count(*) as draws
from work.missing
where not exists (select 1 from cost.lot where (lot.item = missing.flow or 'wood/' || lot.species = missing.flow) and lot.landed_cents > 0)
group by missing.flow
