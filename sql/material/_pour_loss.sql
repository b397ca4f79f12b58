-- One row per resin and purpose (null = of all): what of a mix is not in the piece when done, over
-- weighed pours.
-- `high_share`: nine in ten pours lost no more.
-- @key resin, purpose
with weighed as (select resin, purpose, mixed_mg, good_mg from material._pour_size where weighed)

select
    case when grouping(resin) = 0 then resin end as resin,
    case when grouping(purpose) = 0 then purpose end as purpose, count(*) as pours,
    1 - sum(good_mg) / sum(mixed_mg) as loss_share,
    1 - quantile_cont(good_mg / mixed_mg, 0.1) as high_share
from weighed
where resin is not null and purpose is not null
group by grouping sets ((resin, purpose), (purpose), ())
having count(*) >= 5 or grouping(purpose) = 1 and count(*) > 0
