-- A month whose difference from another is not the sum of its parts.
-- @severity error
select
    month, against, sum(cents) as cents,
    any_value(result_cents) - any_value(other_result_cents) as difference_cents
from money.bridge group by month, against
having sum(cents) <> any_value(result_cents) - any_value(other_result_cents)
