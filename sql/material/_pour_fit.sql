-- One row per purpose, and product where that has five weighed pours: how thick the good resin
-- lies, by weighed pours.
-- The middle one of them: over the whole top, and as a share of the body.
-- @key purpose, product
with weighed as (
    select
        purpose, product, good_mm3 / top_mm2 as thickness_mm,
        good_mm3 / nullif(body_mm3, 0) as body_share
    from material._pour_size where weighed and good_mm3 > 0 and top_mm2 > 0 and purpose is not null
)

select
    purpose, case when grouping(product) = 0 then product end as product, count(*) as pours,
    median(thickness_mm) as thickness_mm, median(body_share) as body_share
from weighed
group by grouping sets ((purpose, product), (purpose))
having count(*) >= 5 and (grouping(product) = 1 or product is not null)
