-- Something was used, or found by a count, that no receipt gives a price for: it counts as free
-- until one turns up.
-- @severity warning
with lacking as (
    select flow, on_date from work.missing
    union all by name
    select flow, on_date from work.found where beyond > 0
),

priced as (
    select case category when 'wood' then 'wood/' || coalesce(species, item) else item end as flow
    from cost.lot where landed_cents > 0
)

select flow as item, min(on_date) as first_on, count(*) as times
from lacking
where flow not in (select flow from priced)
group by flow
