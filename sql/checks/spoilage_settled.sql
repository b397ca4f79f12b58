-- Scrap that is neither in good pieces nor a loss of its month.
-- @severity error
select month_of(on_date) as month, sum(cents) as cents
from cost.moved_entry where place = 'pool' and item = 'spoilage'
group by all having sum(cents) <> 0
