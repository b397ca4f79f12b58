-- A layer of cost that `pipeline/reference/layers.csv` does not name: no column would hold it.
-- @severity error
select layer, count(*) as movements
from cost.moved
where layer is null or layer not in (select layer from settings.layer)
group by layer
