-- More was used than was bought by then: a receipt is missing, and the last known price stands in
-- for it.
-- @severity warning
select
    item, min(on_date) as first_on, count(*) as draws, sum(cents) as cents,
    any_value(unit) as unit, sum(quantity) as quantity
from cost.movement
where from_place = 'imputed' and to_place = 'stock'
    and row_id not in (select row_id from work.unasked)
group by item
