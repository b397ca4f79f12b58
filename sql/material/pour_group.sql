-- One row per purpose and size of pours (and all of them): what was needed by size, what was mixed,
-- what was over.
-- Over pours whose need is known. Over the suggested = beyond what the need and the shop's usual
-- loss explain. Sums of grams are taken in order of the pours: added in another order, their last
-- digit is another.
-- @key purpose, need_size
select
    coalesce(purpose, case when grouping(purpose) = 1 then 'all' else 'not known' end) as purpose,
    coalesce(need_size, 'all') as need_size, count(*) as pours, sum(need_g order by pour) as need_g,
    sum(mixed_g order by pour) as mixed_g, sum(suggested_g order by pour) as suggested_g,
    sum(over_g order by pour) as over_g, sum(over_suggested_g order by pour) as over_suggested_g,
    case when sum(mixed_g order by pour) > 0
         then sum(over_g order by pour) / sum(mixed_g order by pour) end as over_share,
    count(*) filter (where over_suggested_g > 0.1 * suggested_g) as pours_over,
    cast(sum(over_cents) as bigint) as over_cents,
    cast(sum(over_suggested_cents) as bigint) as over_suggested_cents
from material.pour_need
where need_g is not null and mixed_g > 0
group by grouping sets ((purpose, need_size), (purpose), (need_size), ())
