-- One row per piece and operation that most comparable pieces have, with the seconds usual for its size.
-- Comparable are finished pieces of its product and finish, else of its product; at least three, more than half of which
-- have the operation. The middle one of their seconds by surface, times the piece's own surface. Rework is left out.
-- @key piece, operation
with pieces as (select piece, product, finish, status, opening, coalesce(area_mm2, units * 1000) as size from work.piece),

logged as (
    -- a machine that runs alone has done the operation, but nobody's time
    select logged.piece, hours.operation, sum(case when hours.attended then logged.seconds else 0 end) as seconds
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
    select models.piece, models.product, models.finish, logged.operation, logged.seconds, greatest(models.size, 1) as size
    from logged
    join models on models.piece = logged.piece
),

by_level as (
    select *, 'finish' as level, finish as level_finish from rates where finish is not null
    union all
    select *, 'product', null from rates
),

ranked as (
    select
        level, product, level_finish as finish, operation, seconds, size,
        row_number() over (
            partition by level, product, level_finish, operation
            order by cast(seconds as hugeint) * 1000000000000 // size, piece
        ) as number,
        count(*) over (partition by level, product, level_finish, operation) as pieces
    from by_level
),

usual as (select * from ranked where number = (pieces + 1) // 2)

select chosen.piece, usual.operation, cut(usual.seconds, chosen.size, usual.size) as seconds
from chosen
join usual
    on usual.level = chosen.level and usual.product = chosen.product
    and (usual.level = 'product' or usual.finish = chosen.finish)
join groups
    on groups.level = chosen.level and groups.product = chosen.product
    and (groups.level = 'product' or groups.finish = chosen.finish)
where usual.pieces * 2 > groups.pieces and cut(usual.seconds, chosen.size, usual.size) > 0
