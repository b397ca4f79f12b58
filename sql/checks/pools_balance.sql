-- A pool that has given more into pieces and months than it ever took in. What a credit note takes
-- out of it is no gift, and may be spread over months to come.
-- @severity error
with moved as (
    select item, cents from cost.trace where to_place = 'pool'
    union all
    select item, -cents from cost.trace where from_place = 'pool' and to_place <> 'receipt'
)

select item, sum(cents) as cents from moved group by item having sum(cents) < 0
