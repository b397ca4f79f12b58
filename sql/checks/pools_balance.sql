-- A pool that has given more into pieces and months than it ever took in. What a credit note takes
-- out of it is no gift, and may be spread over months to come.
-- @severity error
select item, sum(cents) as cents
from cost.moved_entry
where place = 'pool' and not (cents < 0 and other_place = 'receipt')
group by item having sum(cents) < 0
