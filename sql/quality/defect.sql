-- One row per defect and decision: how often it was found, on how many pieces, and what mending or
-- losing them cost.
-- @key defect, action
with found as (select * from quality.found)

select
    defect, action, count(*) as found, count(distinct piece) as pieces,
    cast(sum(cents) as bigint) as cents
from found group by defect, action
