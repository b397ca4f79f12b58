-- One row per piece and operation that most comparable pieces have, with the seconds usual for its size.
-- Comparable are finished pieces of its product and finish, else of its product; at least three, more than half of which
-- have the operation. The middle one of their seconds by surface, times the piece's own surface. Rework is left out.
-- @key piece, operation
with pieces as (select piece, product, finish, status, opening, coalesce(area_mm2, units * 1000) as size from work.piece),

logged as (
    select logged.piece, hours.operation, sum(logged.seconds) as seconds
    from work._logged as logged
    join work.hours on hours.row_id = logged.row_id
    where hours.kind = 'bench' and not hours.rework and not logged.after_sale
    group by logged.piece, hours.operation
),

models as (select * from pieces where status = 'finished' and not opening),

groups as (
    select 'finish' as level, product, finish, count(*) as pieces from models where finish is not null group by product, finish
    union all
    select 'product', product, null, count(*) from models group by product
),

chosen as (
    select pieces.*, coalesce(by_finish.level, by_product.level) as level
    from pieces
    left join groups as by_finish on by_finish.level = 'finish' and by_finish.product = pieces.product and by_finish.finish = pieces.finish and by_finish.pieces >= 3
    left join groups as by_product on by_product.level = 'product' and by_product.product = pieces.product and by_product.pieces >= 3
    where not pieces.opening
),

rates as (
    select models.product, models.finish, logged.operation, cut(logged.seconds, 1000000, greatest(models.size, 1)) as per_size
    from logged
    join models on models.piece = logged.piece
),

usual as (
    select 'finish' as level, product, finish, operation, count(*) as pieces, quantile_disc(per_size, 0.5) as per_size from rates group by product, finish, operation
    union all
    select 'product', product, null, operation, count(*), quantile_disc(per_size, 0.5) from rates group by product, operation
)

select chosen.piece, usual.operation, cut(usual.per_size, chosen.size, 1000000) as seconds
from chosen
join usual
    on usual.level = chosen.level and usual.product = chosen.product
    and (usual.level = 'product' or usual.finish = chosen.finish)
join groups
    on groups.level = chosen.level and groups.product = chosen.product
    and (groups.level = 'product' or groups.finish = chosen.finish)
where usual.pieces * 2 > groups.pieces and cut(usual.per_size, chosen.size, 1000000) > 0
