-- Pay for shop work that is neither in pieces nor a cost of its month, or own pay that a pool
-- turned into something else.
-- @severity error
-- work before the records begin is a cost of their first month
select
    item, greatest(month_of(on_date), (select min(month) from work.month)) as month, origin,
    sum(cents) as cents
from cost.moved_entry
where place = 'pool' and item <> 'spoilage' and origin in ('labour', 'own labour')
group by all having sum(cents) <> 0
