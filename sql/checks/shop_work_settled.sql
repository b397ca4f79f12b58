-- Pay for shop work that is neither in pieces nor a cost of its month, or own pay that a pool
-- turned into something else.
-- @severity error
with moved as (
    select item, month_of(on_date) as month, origin, cents from cost.trace where to_place = 'pool'
    union all
    select item, month_of(on_date), origin, -cents from cost.trace where from_place = 'pool'
)

-- work before the records begin is a cost of their first month
select
    item, greatest(month, (select min(month) from work.month)) as month, origin, sum(cents) as cents
from moved
where item <> 'spoilage' and origin in ('labour', 'own labour')
group by all having sum(cents) <> 0
